package chinlift.phone

import android.net.Uri
import android.webkit.WebMessage
import android.webkit.WebMessagePort
import android.webkit.WebView
import mobile.Mobile

/**
 * Port is the message port of the page that is shown. Each page that loads gets a new one. A text
 * that comes over it goes to the core, and what the core answers goes back over the same port: that
 * alone tells the page that its tap is on disk.
 *
 * All of it lives on the main thread, where the web view made the port: newer versions let no other
 * thread post to it.
 */
class Port(private val view: WebView, private val core: Core) {
    private var ours: WebMessagePort? = null

    /** lend gives the page a port. */
    fun lend() {
        close()
        val (kept, lent) = view.createWebMessageChannel()
        kept.setWebMessageCallback(
            object : WebMessagePort.WebMessageCallback() {
                override fun onMessage(port: WebMessagePort, message: WebMessage) {
                    core.send(message.data ?: return) { answer -> if (ours === kept) kept.postMessage(WebMessage(answer)) }
                }
            },
        )
        ours = kept
        view.postWebMessage(WebMessage("port", arrayOf(lent)), Uri.parse(Mobile.Origin))
    }

    /** close ends it. What the core records from now on the page asks for again. */
    fun close() {
        ours?.close()
        ours = null
    }
}

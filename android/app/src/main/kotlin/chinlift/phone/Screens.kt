package chinlift.phone

import android.net.Uri
import android.text.TextUtils
import android.webkit.RenderProcessGoneDetail
import android.webkit.WebResourceRequest
import android.webkit.WebResourceResponse
import android.webkit.WebView
import android.webkit.WebViewClient
import java.io.ByteArrayInputStream
import java.io.InputStream
import mobile.Mobile
import mobile.Page

/**
 * Screens answers everything that the web view asks for, so that nothing goes to a network: pages of
 * our own origin by the core, all else by a refusal.
 *
 * The switch of the web view that blocks its network stays as it is, though nothing may pass: some
 * versions look at it before they ask here, and would block our own pages too.
 */
class Screens(private val core: Core, private val shell: Shell) : WebViewClient() {
    /** Shell does what a page leads to beside pages. All but file is called on the main thread. */
    interface Shell {
        /** The page at this path is a file, which was asked for. Called by any thread. */
        fun file(path: String, name: String, media: String, bytes: ByteArray)

        /** A link asks for a picture. */
        fun picture(path: String)

        /** A link asks for a file of any kind, to be taken in. */
        fun takeIn(path: String)

        /** A page has loaded. */
        fun loaded()

        /** The process that draws is dead. */
        fun dead()
    }

    override fun shouldInterceptRequest(view: WebView, request: WebResourceRequest): WebResourceResponse {
        val path = pathOf(request.url) ?: return refused()
        if (request.method != "GET") return refused()
        val page =
            try {
                core.get(path)
            } catch (e: Exception) {
                return sorry(view, e.message.orEmpty())
            }
        val name = page.name.orEmpty()
        if (name.isEmpty()) return answer(page)
        // No content: the page that asked stays where it is (HTML standard, "navigate": a response of
        // status 204).
        shell.file(path, name, page.media, page.body ?: ByteArray(0))
        return response("text/plain", "utf-8", 204, ByteArray(0))
    }

    override fun shouldOverrideUrlLoading(view: WebView, request: WebResourceRequest): Boolean {
        val path = pathOf(request.url) ?: return true
        if (!path.startsWith(Mobile.AttachPath)) return false
        if (path == Mobile.TakeInPath) shell.takeIn(path) else shell.picture(path)
        return true
    }

    override fun onPageFinished(view: WebView, url: String?) {
        if (pathOf(Uri.parse(url.orEmpty())) != null) shell.loaded()
    }

    override fun onRenderProcessGone(view: WebView, detail: RenderProcessGoneDetail): Boolean {
        shell.dead()
        return true // else the system would end this process as well
    }

    private fun answer(page: Page) =
        response(page.media, page.charset.orEmpty().ifEmpty { null }, page.status.toInt(), page.body ?: ByteArray(0))

    private fun refused() = response("text/plain", "utf-8", 403, ByteArray(0))

    // The core could not be opened, or has no answer: the one page that is not of its making.
    private fun sorry(view: WebView, why: String): WebResourceResponse {
        val say = { id: Int -> TextUtils.htmlEncode(view.context.getString(id)) }
        val html =
            "<!doctype html><meta charset=utf-8><meta name=viewport content=\"width=device-width\">" +
                "<meta name=color-scheme content=\"light dark\"><title>${say(R.string.app_name)}</title>" +
                "<p>${TextUtils.htmlEncode(why.ifEmpty { view.context.getString(R.string.no_answer) })}" +
                "<p><a href=\"/\">${say(R.string.again)}</a>"
        return response("text/html", "utf-8", 503, html.toByteArray())
    }

    private fun response(media: String, charset: String?, status: Int, body: ByteArray): WebResourceResponse {
        val data: InputStream = ByteArrayInputStream(body)
        // The reason must not be empty (WebResourceResponse); nobody reads it.
        return WebResourceResponse(media, charset, status, if (status < 300) "OK" else "Refused", HEADERS, data)
    }

    companion object {
        private val HEADERS =
            mapOf(
                "Content-Security-Policy" to Mobile.Policy,
                "X-Content-Type-Options" to "nosniff",
                "Cache-Control" to "no-store",
            )

        /** pathOf gives path and query of an address of our own origin; null: it is another's. */
        fun pathOf(url: Uri): String? {
            if ("${url.scheme}://${url.encodedAuthority}" != Mobile.Origin) return null
            val path = url.encodedPath.orEmpty().ifEmpty { "/" }
            return if (url.encodedQuery == null) path else "$path?${url.encodedQuery}"
        }
    }
}

package chinlift.phone

import android.content.Intent
import android.net.Uri
import android.os.Looper
import android.os.ParcelFileDescriptor
import android.os.ProxyFileDescriptorCallback
import android.os.storage.StorageManager
import android.view.ViewGroup
import android.webkit.WebMessage
import android.webkit.WebResourceRequest
import android.webkit.WebResourceResponse
import android.webkit.WebView
import java.io.ByteArrayInputStream
import java.io.File
import java.util.concurrent.TimeUnit
import java.util.concurrent.locks.LockSupport
import mobile.Mobile
import org.json.JSONArray
import org.json.JSONObject
import org.junit.Assert.assertEquals
import org.junit.Assert.assertNotNull
import org.junit.Assert.assertTrue
import org.junit.runners.model.FrameworkMethod
import org.robolectric.Robolectric
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.Shadows.shadowOf
import org.robolectric.android.controller.ActivityController
import org.robolectric.annotation.Implementation
import org.robolectric.annotation.Implements
import org.robolectric.fakes.RoboWebMessagePort
import org.robolectric.internal.bytecode.InstrumentationConfiguration
import org.robolectric.shadows.ShadowStorageManager
import org.robolectric.shadows.ShadowWebView

/**
 * Runner leaves the generated binding to the JVM's own class loader: a native library can be loaded
 * by one class loader alone, and Robolectric makes one for each version of Android.
 */
class Runner(test: Class<*>) : RobolectricTestRunner(test) {
    override fun createClassLoaderConfig(method: FrameworkMethod): InstrumentationConfiguration =
        InstrumentationConfiguration.Builder(super.createClassLoaderConfig(method))
            .doNotAcquirePackage("mobile.")
            .doNotAcquirePackage("go.")
            .build()
}

/** Glass is the web view of these tests. It runs no page; it keeps what the shell gave it. */
@Implements(WebView::class)
class Glass : ShadowWebView() {
    val posted = mutableListOf<Pair<WebMessage, Uri>>()
    val scripts = mutableListOf<String>()
    val answers = mutableMapOf<String, String>() // to a script that holds the key

    @Implementation
    fun postWebMessage(message: WebMessage, target: Uri) {
        posted += message to target
    }

    @Implementation
    override fun evaluateJavascript(script: String, callback: android.webkit.ValueCallback<String>?) {
        scripts += script
        val answer = answers.entries.firstOrNull { it.key in script }?.value
        if (answer != null) callback?.onReceiveValue(answer)
    }
}

/** Disk stands for the system's service that makes a descriptor of a callback. */
@Implements(StorageManager::class)
class Disk : ShadowStorageManager() {
    @Implementation
    fun openProxyFileDescriptor(mode: Int, callback: ProxyFileDescriptorCallback, handler: android.os.Handler): ParcelFileDescriptor {
        opened += mode to callback
        val (read, write) = ParcelFileDescriptor.createPipe()
        write.close()
        return read
    }

    companion object {
        val opened = mutableListOf<Pair<Int, ProxyFileDescriptorCallback>>()
    }
}

/** Asked is a request of the web view. */
class Asked(private val url: String, private val method: String = "GET", private val main: Boolean = true) : WebResourceRequest {
    override fun getUrl(): Uri = Uri.parse(url)

    override fun isForMainFrame() = main

    override fun isRedirect() = false

    override fun hasGesture() = false

    override fun getMethod() = method

    override fun getRequestHeaders() = mapOf<String, String>()
}

/** Tap is one line of the recording that the browser's tests make. */
class Tap(line: String) {
    private val json = JSONObject(line)
    val message: String = json.getString("message")
    val stored = json.getLong("stored")
    val leads: String = json.optString("go")
    val said: List<String> = json.optJSONArray("said").orEmpty().map { it as String }
    val n = JSONObject(message).getLong("n")
    val path: String = JSONObject(message).getJSONObject("send").getString("path")
}

fun JSONArray?.orEmpty(): List<Any> = if (this == null) emptyList() else (0 until length()).map(::get)

fun recording(): List<Tap> = File(System.getProperty("chinlift.recordings"), "whole-case.jsonl").readLines().map(::Tap)

/** Bench is a phone with the app on it. */
class Bench(intent: Intent? = null) {
    val app get() = RuntimeEnvironment.getApplication() as Chinlift
    val controller: ActivityController<MainActivity> = Robolectric.buildActivity(MainActivity::class.java, intent)
    val activity: MainActivity get() = controller.get()

    val web: WebView get() = (activity.findViewById<ViewGroup>(android.R.id.content).getChildAt(0) as ViewGroup).getChildAt(0) as WebView
    val glass: Glass get() = org.robolectric.shadow.api.Shadow.extract(web)

    /** start brings the Activity to the front, and waits for the first page. */
    fun start(): Bench {
        controller.create().start().postCreate(null).resume().visible()
        until("the first page") { glass.lastLoadedUrl != null }
        return this
    }

    /** settle lets all run that was handed to the core's thread and to the main one. */
    fun settle() {
        shadowOf(Looper.getMainLooper()).idle()
        shadowOf(app.core.looper).idle()
        shadowOf(Looper.getMainLooper()).idle()
    }

    /** until waits for what threads of Go bring about. */
    fun until(what: String, done: () -> Boolean) {
        val end = System.nanoTime() + TimeUnit.SECONDS.toNanos(120)
        while (true) {
            settle()
            if (done()) return
            if (System.nanoTime() > end) throw AssertionError("$what does not come about")
            LockSupport.parkNanos(1_000_000)
        }
    }

    /** loaded says that the page has loaded, and gives the page's end of the port. */
    fun loaded(): RoboWebMessagePort {
        web.webViewClient.onPageFinished(web, web.url)
        settle()
        val (message, target) = glass.posted.last()
        assertEquals("port", message.data)
        assertEquals(Mobile.Origin, target.toString())
        return checkNotNull(message.ports).single() as RoboWebMessagePort
    }

    /** tap sends a text over the port and gives what came back; null: nothing. */
    fun tap(page: RoboWebMessagePort, message: String): JSONObject? {
        val before = page.receivedMessages.size
        page.postMessage(WebMessage(message))
        settle()
        val came = page.receivedMessages.drop(before)
        assertTrue("$came", came.size <= 1)
        return came.firstOrNull()?.let(::JSONObject)
    }

    /** play sends taps of the recording, and wants each acknowledged as in the browser. */
    fun play(page: RoboWebMessagePort, taps: List<Tap>) {
        for (t in taps) {
            val back = checkNotNull(tap(page, t.message)) { "no answer to ${t.message}" }
            assertEquals(t.n, back.getLong("n"))
            val answer = back.getJSONObject("answer")
            assertEquals("$answer", null, answer.optJSONObject("problem"))
            assertEquals(t.message, t.stored, answer.getLong("seq"))
            assertEquals(t.leads, answer.optString("go"))
        }
    }

    /** ask has the interceptor answer, off the main thread as in a phone. */
    fun ask(url: String, method: String = "GET", main: Boolean = true): WebResourceResponse {
        var answer: WebResourceResponse? = null
        val view = web
        val thread = Thread { answer = view.webViewClient.shouldInterceptRequest(view, Asked(url, method, main)) }
        thread.start()
        until("an answer for $url") { !thread.isAlive }
        return checkNotNull(answer) { "the web view would ask the network for $url" }
    }

    fun page(path: String): String {
        val a = ask(Mobile.Origin + path)
        val text = a.data.readBytes().decodeToString()
        assertEquals(text, 200, a.statusCode)
        return text
    }

    /** stop brings the app to the background. */
    fun stop() {
        controller.pause().stop()
        settle()
    }

    fun again() {
        controller.restart().start().resume()
        settle()
    }

    companion object {
        fun bytes(stream: java.io.InputStream?): ByteArray = (stream ?: ByteArrayInputStream(ByteArray(0))).readBytes()
    }
}

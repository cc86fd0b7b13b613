package chinlift.phone

import android.content.Context
import android.net.ConnectivityManager
import android.net.Network
import android.net.NetworkCapabilities
import android.os.Handler
import android.os.HandlerThread
import android.os.Looper
import java.io.File
import java.io.IOException
import java.io.InputStream
import java.util.concurrent.CountDownLatch
import mobile.Alarm
import mobile.App
import mobile.Mobile
import mobile.Notice
import mobile.Page
import mobile.Watcher

/**
 * Core holds the companion that is written in Go. There is one in the process, and it outlives each
 * Activity.
 *
 * What writes, opens or closes goes through one thread, in the order in which it came: a tap that
 * came before the app left the foreground is on disk before the database closes. Pages are read by
 * whichever thread asks; they wait while the database is being opened. What the core says arrives on
 * the main thread.
 */
class Core(private val context: Context, private val alarms: Alarms) {
    /** Listener hears what the core says, on the main thread. */
    interface Listener {
        /** The phone is to stand like this. */
        fun stands(standing: Standing)

        /** This is to be told now, in the foreground. */
        fun due(due: Due)

        /** A tap is on disk, and the clinic lets the phone tick. */
        fun recorded()

        /** The database is open again, or could not be opened. */
        fun awake()
    }

    private val thread = HandlerThread("core").apply { start() }
    private val work = Handler(thread.looper)
    private val main = Handler(Looper.getMainLooper())
    private val phone = Phone(context, Vault())

    @Volatile private var app: App? = null
    @Volatile private var trouble = ""
    @Volatile private var awake = CountDownLatch(1)
    private var asleep = false // of the work thread

    /** What the core last said; null before it said anything. Of the main thread. */
    var standing: Standing? = null
        private set

    /** Who listens; one at a time. Of the main thread. */
    var listener: Listener? = null

    /** Whether the companion could not be opened, or opened again. */
    val troubled: Boolean get() = trouble.isNotEmpty()

    /** looper is that of the work thread. */
    val looper: Looper get() = thread.looper

    /** wake opens the companion, or its database again. */
    fun wake() {
        val latch = CountDownLatch(1)
        awake = latch
        work.post {
            try {
                rouse()
                trouble = ""
            } catch (e: Exception) {
                trouble = e.message.orEmpty().ifEmpty { e.javaClass.name }
            } finally {
                latch.countDown()
            }
            main.post { listener?.awake() }
        }
    }

    private fun rouse() {
        val opened = app
        if (opened != null) {
            if (asleep) opened.resume()
            asleep = false
            return
        }
        val fresh = Mobile.open(File(context.filesDir, "data").path, File(context.noBackupFilesDir, "kept").path, phone)
        fresh.watch(Ear())
        app = fresh
        listenToNetwork(fresh)
    }

    /** sleep closes the database until wake, after all that was handed in before. */
    fun sleep() {
        work.post {
            try {
                app?.suspend()
                asleep = app != null
            } catch (e: Exception) {
                trouble = e.message.orEmpty() // nothing is lost: each tap was on disk when it was acknowledged
            }
        }
    }

    /** get reads a page. It throws with a sentence for the user where there is none to be had. */
    fun get(path: String): Page {
        awake.await()
        if (app == null) { // it could not be opened; whoever asks again has perhaps mended that
            wake()
            awake.await()
        }
        val opened = app ?: throw IllegalStateException(trouble)
        return opened.get(path) ?: throw IllegalStateException(trouble)
    }

    /** file reads a file for whoever is not asked by the web view itself. Nothing comes of a page. */
    fun file(path: String, done: (Page) -> Unit) {
        work.post {
            try {
                val page = app?.get(path)
                if (page != null && !page.name.isNullOrEmpty()) done(page)
            } catch (_: Exception) {
                // The page that asked stays, and may ask again.
            }
        }
    }

    /** send hands over a text of the page's port, and gives the text to post back to the main thread. */
    fun send(message: String, answer: (String) -> Unit) {
        work.post {
            val text = app?.send(message).orEmpty()
            if (text.isNotEmpty()) main.post { answer(text) }
        }
    }

    /** mark marks an instant; done hears null, or why there is no mark, on the main thread. */
    fun mark(path: String, done: (String?) -> Unit) = ask(done) { it.mark(path) }

    /** attach keeps a picture for the link that asked for it. */
    fun attach(path: String, picture: ByteArray, done: (String?) -> Unit) = ask(done) { it.attach(path, picture) }

    /**
     * attachAll hands over a file in pieces, however large it is. It is read twice, since not every
     * app that lends one knows its size. unread is said where it cannot be read.
     */
    fun attachAll(path: String, open: () -> InputStream?, unread: String, done: (String?) -> Unit) =
        ask(done) { app ->
            try {
                val piece = ByteArray(PIECE)
                var size = 0L
                var at = 0L
                (open() ?: throw IOException()).use { from -> pieces(from, piece) { size += it } }
                (open() ?: throw IOException()).use { from ->
                    pieces(from, piece) { n ->
                        app.attach("$path?at=$at&of=$size", piece.copyOf(n))
                        at += n
                    }
                }
                if (size == 0L) app.attach(path, ByteArray(0))
            } catch (_: IOException) {
                throw IllegalStateException(unread)
            } catch (_: SecurityException) {
                throw IllegalStateException(unread)
            }
        }

    // A piece is as long as there is room for, but for the last.
    private fun pieces(from: InputStream, piece: ByteArray, use: (Int) -> Unit) {
        while (true) {
            var n = 0
            while (n < piece.size) {
                val more = from.read(piece, n, piece.size - n)
                if (more < 0) break
                n += more
            }
            if (n > 0) use(n)
            if (n < piece.size) return
        }
    }

    private fun ask(done: (String?) -> Unit, order: (App) -> Unit) {
        work.post {
            val problem =
                try {
                    order(app ?: throw IllegalStateException(trouble))
                    null
                } catch (e: Exception) {
                    e.message.orEmpty()
                }
            main.post { done(problem) }
        }
    }

    /** heard takes in how the phone is to stand. On the main thread. */
    internal fun heard(now: Standing) {
        standing = now
        alarms.set(now.dues)
        listener?.stands(now)
    }

    private fun listenToNetwork(app: App) {
        app.connected(Mobile.ConnectionNone)
        val told =
            object : ConnectivityManager.NetworkCallback() {
                override fun onCapabilitiesChanged(network: Network, now: NetworkCapabilities) {
                    val free = now.hasCapability(NetworkCapabilities.NET_CAPABILITY_NOT_METERED)
                    say(if (free) Mobile.ConnectionFree else Mobile.ConnectionMetered)
                }

                override fun onLost(network: Network) = say(Mobile.ConnectionNone)

                private fun say(how: Long) {
                    try {
                        app.connected(how)
                    } catch (_: Exception) {
                        // Files wait: the outbox asks again when it is next told.
                    }
                }
            }
        try {
            context.getSystemService(ConnectivityManager::class.java).registerDefaultNetworkCallback(told, work)
        } catch (_: RuntimeException) {
            // Without this nothing is sent, and all else goes on.
        }
    }

    /** Ear is called by threads of Go, while taps wait. It must not throw. */
    private inner class Ear : Watcher {
        override fun changed(n: Notice?) {
            val now = Standing(n ?: return)
            main.post { heard(now) }
        }

        override fun due(alarm: Alarm?) {
            val due = Due(alarm ?: return)
            main.post { listener?.due(due) }
        }

        override fun recorded() {
            main.post { listener?.recorded() }
        }
    }

    private companion object {
        const val PIECE = 1 shl 22 // bytes: what the contract allows at once
    }
}

package chinlift.phone

import android.Manifest
import android.app.Activity
import android.content.Intent
import android.content.pm.PackageManager
import android.content.res.Configuration
import android.graphics.Color
import android.graphics.drawable.ColorDrawable
import android.media.AudioAttributes
import android.media.AudioManager
import android.media.ToneGenerator
import android.net.Uri
import android.os.Build
import android.os.Bundle
import android.os.SystemClock
import android.os.VibrationEffect
import android.os.Vibrator
import android.provider.MediaStore
import android.view.HapticFeedbackConstants
import android.view.KeyEvent
import android.view.View
import android.view.ViewGroup
import android.view.WindowInsets
import android.view.WindowInsetsController
import android.view.WindowManager
import android.webkit.ConsoleMessage
import android.webkit.CookieManager
import android.webkit.ValueCallback
import android.webkit.WebChromeClient
import android.webkit.WebSettings
import android.webkit.WebView
import android.widget.FrameLayout
import android.widget.Toast
import android.window.OnBackInvokedDispatcher
import java.io.IOException
import mobile.Mobile

/**
 * MainActivity is the one Activity: a web view, and what the phone does for it. It holds no state of
 * its own that matters. Whatever dies, the web view's process, the Activity or the app, comes back on
 * the page that the core names: the table of the open case.
 */
class MainActivity : Activity(), Core.Listener, Screens.Shell {
    private val app get() = application as Chinlift
    private val core get() = app.core

    private lateinit var frame: FrameLayout
    private var web: WebView? = null // null: dead, or not made yet
    private var port: Port? = null
    private var begun = false // the web view was given its first page
    private var wanted: String? = null // by a notification that was tapped
    private var askedFor: String? = null // path of the link that waits for a picture
    private var camera: Uri? = null // where the camera writes it
    private var chosen: ValueCallback<Array<Uri>>? = null // the page's own picker of files
    private var handedOver = "" // path of the last file, and when it was
    private var handedOverAt = 0L
    private var pressed = Long.MIN_VALUE // when the volume key last marked, by its event's clock

    override fun onCreate(state: Bundle?) {
        super.onCreate(state)
        // The list of recent apps shows nothing of a patient, and no picture can be taken of the screen.
        window.addFlags(WindowManager.LayoutParams.FLAG_SECURE)
        if (Build.VERSION.SDK_INT >= Build.VERSION_CODES.TIRAMISU) {
            setRecentsScreenshotEnabled(false)
            onBackInvokedDispatcher.registerOnBackInvokedCallback(OnBackInvokedDispatcher.PRIORITY_DEFAULT, ::back)
        }
        askedFor = state?.getString(ASKED_FOR)
        camera = state?.getString(CAMERA)?.let(Uri::parse)
        wanted = intentPath(intent)
        frame = FrameLayout(this)
        frame.setOnApplyWindowInsetsListener(::inset)
        setContentView(frame)
        paint()
        core.listener = this
        build()
    }

    override fun onStart() {
        super.onStart()
        app.shown = true
        core.listener = this
        if (web == null) build()
        core.wake() // which ends in awake
    }

    override fun onStop() {
        app.shown = false
        if (!isChangingConfigurations) core.sleep()
        super.onStop()
    }

    override fun onDestroy() {
        if (core.listener === this) core.listener = null
        raze()
        super.onDestroy()
    }

    override fun onSaveInstanceState(state: Bundle) {
        super.onSaveInstanceState(state)
        state.putString(ASKED_FOR, askedFor)
        state.putString(CAMERA, camera?.toString())
    }

    override fun onNewIntent(intent: Intent) {
        super.onNewIntent(intent)
        setIntent(intent)
        wanted = intentPath(intent) ?: return
        if (app.shown && begun) open() // else awake does
    }

    override fun onConfigurationChanged(now: Configuration) {
        super.onConfigurationChanged(now)
        paint()
    }

    // --- the web view ---

    private fun build() {
        val view = WebView(this)
        view.settings.apply {
            @Suppress("SetJavaScriptEnabled") // our own script alone: nothing else is ever answered
            javaScriptEnabled = true
            allowFileAccess = false
            allowContentAccess = false
            domStorageEnabled = false
            setGeolocationEnabled(false)
            cacheMode = WebSettings.LOAD_NO_CACHE
            safeBrowsingEnabled = false // it would ask a server about our own pages
            if (Build.VERSION.SDK_INT >= Build.VERSION_CODES.TIRAMISU) isAlgorithmicDarkeningAllowed = false
        }
        CookieManager.getInstance().setAcceptCookie(false)
        view.setBackgroundColor(ground())
        view.importantForAutofill = View.IMPORTANT_FOR_AUTOFILL_NO_EXCLUDE_DESCENDANTS
        view.webViewClient = Screens(core, this)
        view.webChromeClient = Chrome()
        // A link to a file may be made a download of: some versions then ask the interceptor, and
        // some only here.
        view.setDownloadListener { url, _, _, _, _ ->
            Screens.pathOf(Uri.parse(url))?.let { path -> core.file(path) { file(path, it.name, it.media, it.body ?: ByteArray(0)) } }
        }
        frame.addView(view, ViewGroup.LayoutParams.MATCH_PARENT, ViewGroup.LayoutParams.MATCH_PARENT)
        web = view
        port = Port(view, core)
        begun = false
    }

    private fun raze() {
        port?.close()
        port = null
        val view = web ?: return
        web = null
        frame.removeView(view)
        view.destroy()
    }

    /** open shows the page that was asked for, or the one to begin with. */
    private fun open() {
        val path = wanted ?: core.standing?.path ?: "/"
        wanted = null
        begun = true
        web?.loadUrl(Mobile.Origin + path)
    }

    private fun shown(): String? = web?.url?.let { Screens.pathOf(Uri.parse(it)) }

    private fun freshen() {
        web?.evaluateJavascript(Mobile.Freshen, null)
    }

    private fun intentPath(intent: Intent?): String? = Alarms.name(intent)?.let(app.alarms::path)

    override fun loaded() {
        port?.lend()
        // The ground of the page, which may have a theme of its own: the next start begins with it.
        web?.evaluateJavascript("getComputedStyle(document.documentElement).backgroundColor") { css ->
            colour(css)?.let { c ->
                getPreferences(MODE_PRIVATE).edit().putInt(GROUND, c).putInt(GROUND_NIGHT, night()).apply()
                paint()
            }
        }
    }

    override fun dead() {
        chosen = null
        raze()
        if (!app.shown) return // onStart makes another
        build()
        open()
    }

    override fun file(path: String, name: String, media: String, bytes: ByteArray) {
        runOnUiThread {
            val now = SystemClock.elapsedRealtime()
            val again = path == handedOver && now - handedOverAt < TWICE_MS
            handedOver = path
            handedOverAt = now
            if (!again) startActivity(Files.share(this, name, media, bytes))
        }
    }

    private inner class Chrome : WebChromeClient() {
        // What a page says there could name somebody; the system's log is not ours.
        override fun onConsoleMessage(message: ConsoleMessage): Boolean = true

        override fun onShowFileChooser(view: WebView, files: ValueCallback<Array<Uri>>, how: FileChooserParams): Boolean {
            chosen?.onReceiveValue(null)
            chosen = files
            return leave(how.createIntent(), FILE).also { if (!it) chosen = null }
        }
    }

    // --- what the core says ---

    override fun stands(standing: Standing) {
        val flag = WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON
        if (standing.screenOn) window.addFlags(flag) else window.clearFlags(flag)
        if (!begun && app.shown) open()
        if (standing.dues.isNotEmpty()) askToTell()
    }

    override fun due(due: Due) {
        if (due.buzz) {
            val alarm = AudioAttributes.Builder().setUsage(AudioAttributes.USAGE_ALARM).build()
            @Suppress("DEPRECATION") // its successor begins with Android 13
            getSystemService(Vibrator::class.java).vibrate(VibrationEffect.createWaveform(Alarms.BUZZ, -1), alarm)
        }
        if (due.sound) beep()
    }

    private fun beep() {
        try {
            val tone = ToneGenerator(AudioManager.STREAM_ALARM, LOUD)
            tone.startTone(ToneGenerator.TONE_PROP_BEEP2, BEEP_MS)
            frame.postDelayed(tone::release, 2L * BEEP_MS)
        } catch (_: RuntimeException) {
            // The phone has no tone to give; the page shows what is due all the same.
        }
    }

    override fun recorded() {
        web?.performHapticFeedback(HapticFeedbackConstants.VIRTUAL_KEY)
    }

    override fun awake() {
        when {
            begun && wanted == null -> freshen()
            begun || core.standing != null || core.troubled -> open()
            // The first word of the core is under way, and names the page. It may not come where the
            // record cannot be read: then the first page says so.
            else -> frame.postDelayed({ if (!begun && app.shown) open() }, PATIENCE_MS)
        }
    }

    // Without the user's leave no notification may be shown (Android 13); asked once, when there is
    // something to tell.
    private fun askToTell() {
        if (Build.VERSION.SDK_INT < Build.VERSION_CODES.TIRAMISU) return
        if (checkSelfPermission(Manifest.permission.POST_NOTIFICATIONS) == PackageManager.PERMISSION_GRANTED) return
        val asked = getPreferences(MODE_PRIVATE)
        if (asked.getBoolean(ASKED_TO_TELL, false)) return
        asked.edit().putBoolean(ASKED_TO_TELL, true).apply()
        requestPermissions(arrayOf(Manifest.permission.POST_NOTIFICATIONS), TELL)
    }

    // --- keys ---

    override fun dispatchKeyEvent(event: KeyEvent): Boolean {
        val volume = event.keyCode == KeyEvent.KEYCODE_VOLUME_UP || event.keyCode == KeyEvent.KEYCODE_VOLUME_DOWN
        if (!volume || core.standing?.markKey != true) return super.dispatchKeyEvent(event)
        // A key that is held, or bounces, is one press.
        val again = event.repeatCount > 0 || pressed != Long.MIN_VALUE && event.eventTime - pressed < BOUNCE_MS
        if (event.action == KeyEvent.ACTION_DOWN && !again) {
            pressed = event.eventTime
            core.mark(shown() ?: "/") { problem ->
                if (problem == null) freshen() else say(problem)
            }
        }
        return true
    }

    private fun say(problem: String) {
        Toast.makeText(this, problem.ifEmpty { getString(R.string.no_answer) }, Toast.LENGTH_LONG).show()
    }

    @Deprecated("below Android 13 there is no other way")
    override fun onBackPressed() = back()

    private fun back() {
        val view = web
        if (view != null && view.canGoBack()) view.goBack() else moveTaskToBack(true)
    }

    // --- pictures and files that come in ---

    override fun picture(path: String) {
        val write = Files.await(this)
        val pick =
            Intent(Intent.ACTION_OPEN_DOCUMENT).addCategory(Intent.CATEGORY_OPENABLE).setType("image/*")
                .putExtra(Intent.EXTRA_MIME_TYPES, arrayOf("image/jpeg", "image/png"))
        val take =
            Intent(MediaStore.ACTION_IMAGE_CAPTURE).putExtra(MediaStore.EXTRA_OUTPUT, write)
                .addFlags(Intent.FLAG_GRANT_WRITE_URI_PERMISSION)
        take.clipData = android.content.ClipData.newRawUri("", write)
        val either =
            Intent.createChooser(pick, getString(R.string.picture)).putExtra(Intent.EXTRA_INITIAL_INTENTS, arrayOf(take))
        askedFor = path
        camera = write
        leave(either, PICTURE)
    }

    // Any kind: no app knows the names of ours. Whether it can be taken in the core says.
    override fun takeIn(path: String) {
        askedFor = path
        leave(Intent(Intent.ACTION_OPEN_DOCUMENT).addCategory(Intent.CATEGORY_OPENABLE).setType("*/*"), TAKE_IN)
    }

    private fun leave(intent: Intent, request: Int): Boolean =
        try {
            @Suppress("DEPRECATION") // its successor is no part of the platform
            startActivityForResult(intent, request)
            true
        } catch (_: RuntimeException) { // nobody here can
            say(getString(R.string.nobody_can))
            false
        }

    @Deprecated("its successor is no part of the platform")
    override fun onActivityResult(request: Int, result: Int, data: Intent?) {
        when (request) {
            FILE -> {
                chosen?.onReceiveValue(WebChromeClient.FileChooserParams.parseResult(result, data))
                chosen = null
            }
            TAKE_IN -> {
                val path = askedFor
                val picked = data?.data
                askedFor = null
                if (result == RESULT_OK && path != null && picked != null) hand(path, picked)
            }
            PICTURE -> {
                val path = askedFor
                val written = camera
                askedFor = null
                camera = null
                if (result == RESULT_OK && path != null) take(path, data?.data, written)
            }
        }
    }

    private fun hand(path: String, picked: Uri) {
        core.attachAll(path, { contentResolver.openInputStream(picked) }, getString(R.string.no_file)) { problem ->
            if (problem == null) web?.reload() else say(problem)
        }
    }

    private fun take(path: String, picked: Uri?, written: Uri?) {
        val picture =
            try {
                if (picked == null) written?.let(Files::take) else read(picked)
            } catch (_: IOException) {
                null
            } catch (_: SecurityException) {
                null
            }
        if (picture == null) {
            say(getString(R.string.no_picture))
            return
        }
        core.attach(path, picture) { problem ->
            if (problem == null) web?.reload() else say(problem)
        }
    }

    // One byte more than may be, so that the core sees what is too long and says so.
    private fun read(uri: Uri): ByteArray? =
        contentResolver.openInputStream(uri)?.use { from ->
            val out = java.io.ByteArrayOutputStream()
            val part = ByteArray(1 shl 16)
            while (out.size() <= Files.MOST) {
                val n = from.read(part)
                if (n < 0) break
                out.write(part, 0, n)
            }
            out.toByteArray()
        }

    // --- how it looks ---

    private fun night(): Int = resources.configuration.uiMode and Configuration.UI_MODE_NIGHT_MASK

    // What the page last had, while the phone's own theme is what it was then.
    private fun ground(): Int {
        val kept = getPreferences(MODE_PRIVATE)
        val theme = getColor(R.color.ground)
        return if (kept.getInt(GROUND_NIGHT, -1) == night()) kept.getInt(GROUND, theme) else theme
    }

    private fun paint() {
        val ground = ground()
        window.setBackgroundDrawable(ColorDrawable(ground))
        web?.setBackgroundColor(ground)
        bars(ground, Color.luminance(ground) > HALF)
    }

    // The system's own signs and keys stand on the same ground, and must be seen on it.
    @Suppress("DEPRECATION") // what is said otherwise from Android 11 and 15 on
    private fun bars(ground: Int, light: Boolean) {
        window.statusBarColor = ground
        window.navigationBarColor = ground
        if (Build.VERSION.SDK_INT >= Build.VERSION_CODES.R) {
            val dark = WindowInsetsController.APPEARANCE_LIGHT_STATUS_BARS or WindowInsetsController.APPEARANCE_LIGHT_NAVIGATION_BARS
            window.insetsController?.setSystemBarsAppearance(if (light) dark else 0, dark)
            return
        }
        val dark = View.SYSTEM_UI_FLAG_LIGHT_STATUS_BAR or View.SYSTEM_UI_FLAG_LIGHT_NAVIGATION_BAR
        val now = window.decorView.systemUiVisibility
        window.decorView.systemUiVisibility = if (light) now or dark else now and dark.inv()
    }

    // From Android 15 on an app is drawn under the bars of the system.
    private fun inset(view: View, insets: WindowInsets): WindowInsets {
        if (Build.VERSION.SDK_INT >= Build.VERSION_CODES.R) {
            val types = WindowInsets.Type.systemBars() or WindowInsets.Type.displayCutout() or WindowInsets.Type.ime()
            val i = insets.getInsets(types)
            view.setPadding(i.left, i.top, i.right, i.bottom)
            return WindowInsets.CONSUMED
        }
        return view.onApplyWindowInsets(insets)
    }

    companion object {
        private const val ASKED_FOR = "asked-for"
        private const val CAMERA = "camera"
        private const val GROUND = "ground"
        private const val GROUND_NIGHT = "ground-night"
        private const val ASKED_TO_TELL = "asked-to-tell"
        private const val PICTURE = 1
        private const val FILE = 2
        private const val TELL = 3
        private const val TAKE_IN = 4
        private const val PATIENCE_MS = 2000L // house choice, no source
        private const val BOUNCE_MS = 350 // as the screens' own (house choice, no source)
        private const val TWICE_MS = 2000 // one tap asks for a file twice within it (house choice, no source)
        private const val LOUD = 80 // percent (house choice, no source)
        private const val BEEP_MS = 300 // house choice, no source
        private const val HALF = 0.5f // of the luminance of white (house choice, no source)

        /** colour reads what a page says of a colour: "rgb(18, 22, 27)", as JSON. */
        fun colour(css: String?): Int? {
            val (r, g, b) = RGB.matchEntire(css.orEmpty())?.destructured ?: return null
            return Color.rgb(r.toInt(), g.toInt(), b.toInt())
        }

        private val RGB = Regex("\"rgb\\((\\d{1,3}), (\\d{1,3}), (\\d{1,3})\\)\"")
    }
}

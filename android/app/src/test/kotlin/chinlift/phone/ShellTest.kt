package chinlift.phone

import android.content.Intent
import android.net.Uri
import android.view.KeyEvent
import android.view.WindowManager
import android.webkit.RenderProcessGoneDetail
import mobile.Mobile
import org.json.JSONObject
import org.junit.After
import org.junit.Assert.assertEquals
import org.junit.Assert.assertFalse
import org.junit.Assert.assertNotEquals
import org.junit.Assert.assertNotSame
import org.junit.Assert.assertNull
import org.junit.Assert.assertSame
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.Shadows.shadowOf
import org.robolectric.annotation.Config
import org.robolectric.fakes.RoboWebMessagePort

/** What the Activity does, with the real core behind it. */
@RunWith(Runner::class)
@Config(sdk = [26, 34], shadows = [Glass::class, Disk::class])
class ShellTest {
    private val taps = recording()
    private val id = taps[0].leads.split("/")[1]
    private val table = "/case/$id/table"
    private val bench = Bench()

    @After
    fun end() {
        bench.controller.pause().stop().destroy()
        bench.settle()
    }

    // So far that anaesthesia is under way: the case is on the table.
    private val begun = taps.indexOfFirst { it.path.startsWith("$table/agent") } + 1

    @Test
    fun aWholeCaseOverThePort() {
        bench.start()
        assertEquals(Mobile.Origin + "/", bench.glass.lastLoadedUrl)
        bench.play(bench.loaded(), taps)
        val file = checkNotNull(bench.app.core.get("/case/$id/files/lines.jsonl"))
        val said =
            file.body.decodeToString().trim().lines().map(::JSONObject).map { it.getJSONObject("e") }
                .filter { it.getString("scope") == "case" }.map { it.getString("kind") to it.getJSONObject("data").toString() }
        assertEquals(
            taps.last().said.map { it.substringBefore(" ") to JSONObject(it.substringAfter(" ")).toString() },
            said,
        )
        assertFalse(bench.app.core.standing!!.screenOn)
    }

    @Test
    fun theAcknowledgementIsTheOnlyAnswer() {
        bench.start()
        val page = bench.loaded()
        bench.play(page, taps.take(3))
        // The same tap once more is the same event, and is acknowledged again.
        val again = bench.tap(page, taps[2].message)!!.getJSONObject("answer")
        assertEquals(taps[2].stored, again.getLong("seq"))
        // What is none of the page's gets no answer.
        for (text in listOf("", "port", "{}", "{\"n\":")) assertNull(text, bench.tap(page, text))
        // Another page has loaded: the old one's port is closed, and hears nothing more.
        val next = bench.loaded()
        assertNotSame(page, next)
        assertTrue((page.connectedPort as RoboWebMessagePort).isClosed)
        bench.play(next, taps.slice(3..4))
    }

    @Test
    fun nothingButOurOwnPagesIsAnswered() {
        bench.start()
        for (url in listOf(
            "http://chinlift.invalid/", "https://chinlift.invalid:444/", "https://chinlift.invalid.elsewhere.invalid/",
            "https://name@chinlift.invalid/", "https://elsewhere.invalid/", "https://elsewhere.invalid/chinlift.invalid/",
            "file:///etc/hosts", "content://chinlift.phone.files/x/y", "data:text/html,x", "javascript:0", "about:blank",
        )) {
            val a = bench.ask(url)
            assertEquals(url, 403, a.statusCode)
            assertEquals(url, 0, Bench.bytes(a.data).size)
            assertTrue(url, bench.web.webViewClient.shouldOverrideUrlLoading(bench.web, Asked(url)))
        }
        for (method in listOf("POST", "PUT", "HEAD", "OPTIONS")) {
            assertEquals(method, 403, bench.ask(Mobile.Origin + "/", method).statusCode)
        }
        val own = bench.ask(Mobile.Origin + "/today?x=1")
        assertEquals(200, own.statusCode)
        assertEquals("text/html", own.mimeType)
        assertEquals("utf-8", own.encoding.lowercase())
        assertEquals(
            mapOf("Content-Security-Policy" to Mobile.Policy, "X-Content-Type-Options" to "nosniff", "Cache-Control" to "no-store"),
            own.responseHeaders,
        )
        assertTrue(own.data.readBytes().decodeToString().contains("data-page="))
        assertEquals(404, bench.ask(Mobile.Origin + "/nowhere").statusCode)
        assertFalse(bench.web.webViewClient.shouldOverrideUrlLoading(bench.web, Asked(Mobile.Origin + "/today")))
        bench.web.settings.run {
            assertTrue(javaScriptEnabled)
            assertFalse(allowFileAccess)
            assertFalse(allowContentAccess)
            assertFalse(domStorageEnabled)
        }
        // No port is lent to what is not ours.
        val before = bench.glass.posted.size
        bench.web.webViewClient.onPageFinished(bench.web, "https://elsewhere.invalid/")
        bench.settle()
        assertEquals(before, bench.glass.posted.size)
    }

    @Test
    fun thePageStaysWhenThePhoneIsTurned() {
        bench.start()
        val page = bench.loaded()
        bench.play(page, taps.take(begun))
        val web = bench.web
        val turned = android.content.res.Configuration(bench.activity.resources.configuration)
        turned.orientation = android.content.res.Configuration.ORIENTATION_LANDSCAPE
        turned.uiMode = android.content.res.Configuration.UI_MODE_NIGHT_YES
        val activity = bench.activity
        bench.controller.configurationChange(turned)
        assertSame(activity, bench.activity)
        assertSame(web, bench.web)
        assertEquals(Mobile.Origin + "/", bench.glass.lastLoadedUrl) // nothing was loaded anew
        bench.play(page, taps.slice(begun..begun))
    }

    @Test
    fun theOpenCaseComesBackOnTheTableWhenTheActivityIsMadeAnew() {
        bench.start()
        bench.play(bench.loaded(), taps.take(begun))
        bench.until("the case on the table") { bench.app.core.standing?.path == table }
        bench.controller.recreate()
        bench.until("the table") { bench.glass.lastLoadedUrl == Mobile.Origin + table }
        bench.play(bench.loaded(), taps.slice(begun..begun + 1))
    }

    @Test
    fun theOpenCaseComesBackOnTheTableWhenTheWebViewDies() {
        bench.start()
        val page = bench.loaded()
        bench.play(page, taps.take(begun))
        bench.until("the case on the table") { bench.app.core.standing?.path == table }
        val dead = bench.web
        val glass = bench.glass
        val gone =
            object : RenderProcessGoneDetail() {
                override fun didCrash() = true

                override fun rendererPriorityAtExit() = 0
            }
        assertTrue(dead.webViewClient.onRenderProcessGone(dead, gone))
        bench.settle()
        assertTrue(glass.wasDestroyCalled())
        assertNotSame(dead, bench.web)
        assertEquals(Mobile.Origin + table, bench.glass.lastLoadedUrl)
        assertTrue(bench.page(table).contains("data-path=\"$table\""))
        bench.play(bench.loaded(), taps.slice(begun..begun))

        // It dies while the app is in the background: the system takes its memory.
        bench.stop()
        val second = bench.web
        assertTrue(second.webViewClient.onRenderProcessGone(second, gone))
        bench.again()
        bench.until("the table") { bench.web !== second && bench.glass.lastLoadedUrl == Mobile.Origin + table }
        bench.play(bench.loaded(), taps.slice(begun + 1..begun + 1))
    }

    @Test
    fun theScreenStaysOnDuringACaseAloneAndShowsNothingToOthers() {
        bench.start()
        val flags = { bench.activity.window.attributes.flags }
        val on = WindowManager.LayoutParams.FLAG_KEEP_SCREEN_ON
        val page = bench.loaded()
        assertEquals(0, flags() and on)
        bench.play(page, taps.take(begun))
        bench.until("the screen to stay on") { flags() and on != 0 }
        bench.play(page, taps.drop(begun))
        bench.until("the screen to go off") { flags() and on == 0 }
        assertNotEquals(0, flags() and WindowManager.LayoutParams.FLAG_SECURE)
    }

    @Test
    fun aVolumeKeyMarksAnInstantWhereThatWasChosen() {
        bench.start()
        val page = bench.loaded()
        bench.play(page, taps.take(begun))
        bench.until("the table") { bench.app.core.standing?.path == table }
        fun press(key: Int, at: Long, repeat: Int = 0): Boolean {
            val took = bench.activity.dispatchKeyEvent(KeyEvent(at, at, KeyEvent.ACTION_DOWN, key, repeat))
            bench.settle()
            return took
        }
        fun marks() = bench.app.core.get("/case/$id/files/lines.jsonl").body.decodeToString().lines().count { "\"kind\":\"mark/1\"" in it }
        val down = KeyEvent.KEYCODE_VOLUME_DOWN
        press(down, 1_000)
        assertEquals(0, marks())

        val choose =
            JSONObject().put("n", 99).put(
                "send",
                JSONObject().put("path", "/settings").put("fields", JSONObject("{\"do\":[\"mark-key\"],\"value\":[\"yes\"]}"))
                    .put("event", "01a21873-0000-7000-8000-000000000001").put("base", 1).put("page", "").put("under", "").put("case", ""),
            )
        val chosen = bench.tap(page, choose.toString())!!
        assertFalse("$chosen", chosen.getJSONObject("answer").has("problem"))
        bench.until("the key to mark") { bench.app.core.standing?.markKey == true }

        bench.glass.scripts.clear()
        assertTrue(press(down, 10_000))
        assertEquals(1, marks())
        assertEquals(listOf(Mobile.Freshen), bench.glass.scripts)
        assertTrue(press(down, 10_100)) // it bounces
        assertTrue(press(down, 10_600, repeat = 1)) // it is held
        assertEquals(1, marks())
        assertTrue(press(KeyEvent.KEYCODE_VOLUME_UP, 12_000))
        assertEquals(2, marks())
        assertTrue(bench.activity.dispatchKeyEvent(KeyEvent(12_050, 12_050, KeyEvent.ACTION_UP, down, 0)))
        press(KeyEvent.KEYCODE_CAMERA, 14_000)
        assertEquals(2, marks())
    }

    @Test
    fun inTheBackgroundTheRecordIsClosed() {
        bench.start()
        val page = bench.loaded()
        bench.play(page, taps.take(4))
        // What came before the app left goes in, and then the database closes.
        page.postMessage(android.webkit.WebMessage(taps[4].message))
        bench.stop()
        assertEquals(taps[4].stored, JSONObject(page.receivedMessages.last()).getJSONObject("answer").getLong("seq"))
        val answer = bench.tap(page, taps[5].message)?.optJSONObject("answer")
        assertTrue("$answer", answer == null || answer.has("problem"))
        assertEquals(503, bench.ask(Mobile.Origin + "/").statusCode)

        bench.glass.scripts.clear()
        bench.again()
        assertTrue(bench.glass.scripts.contains(Mobile.Freshen))
        assertEquals(Mobile.Origin + "/", bench.glass.lastLoadedUrl)
        bench.play(page, taps.slice(5..6))
    }

    // What was started beside it is the question whether notifications may be shown.
    private fun sheet(): Intent? = generateSequence { shadowOf(bench.activity).nextStartedActivity }.firstOrNull { it.action == Intent.ACTION_CHOOSER }

    @Test
    fun aFileGoesToTheShareSheetAndThePageStays() {
        bench.start()
        bench.play(bench.loaded(), taps.take(begun))
        val path = "/case/$id/files/lines.jsonl"
        val a = bench.ask(Mobile.Origin + path)
        assertEquals(204, a.statusCode)
        val sheet = sheet()!!
        @Suppress("DEPRECATION")
        val send = sheet.getParcelableExtra<Intent>(Intent.EXTRA_INTENT)!!
        @Suppress("DEPRECATION")
        val uri = send.getParcelableExtra<Uri>(Intent.EXTRA_STREAM)!!
        assertEquals(Intent.ACTION_SEND, send.action)
        assertNotEquals(0, send.flags and Intent.FLAG_GRANT_READ_URI_PERMISSION)
        assertEquals(uri, send.clipData!!.getItemAt(0).uri)

        val want = bench.app.core.get(path)
        val resolver = bench.activity.contentResolver
        assertEquals(want.media, resolver.getType(uri))
        resolver.query(uri, null, null, null, null)!!.use { c ->
            assertTrue(c.moveToFirst())
            assertEquals(want.name, c.getString(0))
            assertEquals(want.body.size.toLong(), c.getLong(1))
        }
        Disk.opened.clear()
        resolver.openFileDescriptor(uri, "r")!!.close()
        val read = Disk.opened.single().second
        val bytes = ByteArray(want.body.size + 100)
        val n = read.onRead(0, 1000, bytes)
        val rest = ByteArray(bytes.size)
        val m = read.onRead(n.toLong(), bytes.size, rest)
        assertEquals(want.body.size, n + m)
        assertEquals(want.body.decodeToString(), (bytes.take(n) + rest.take(m)).toByteArray().decodeToString())
        // Where a web view makes a download of the link, it is the same tap; later it is another.
        val listener = bench.glass.downloadListener
        listener.onDownloadStart(Mobile.Origin + path, "", "", want.media, 1)
        bench.settle()
        assertNull(sheet())
        org.robolectric.shadows.ShadowSystemClock.advanceBy(java.time.Duration.ofSeconds(3))
        for (other in listOf("https://elsewhere.invalid/x", Mobile.Origin + "/today")) listener.onDownloadStart(other, "", "", "", 1)
        bench.settle()
        assertNull(sheet())
        listener.onDownloadStart(Mobile.Origin + path, "", "", want.media, 1)
        bench.settle()
        assertEquals(Intent.ACTION_CHOOSER, sheet()!!.action)
        for (mode in listOf("w", "rw", "wt")) {
            val refused = runCatching { resolver.openFileDescriptor(uri, mode) }
            assertTrue(mode, refused.exceptionOrNull() is java.io.FileNotFoundException)
        }
        val guessed = uri.buildUpon().path("/00000000-0000-4000-8000-000000000000/x").build()
        assertTrue(runCatching { resolver.openFileDescriptor(guessed, "r") }.exceptionOrNull() is java.io.FileNotFoundException)
        // Nothing of it lies on the disk.
        val kept = bench.activity.cacheDir.walk().filter { it.isFile }.toList() + listOfNotNull(bench.activity.externalCacheDir)
        assertEquals(emptyList<Any>(), kept.filter { it.name.endsWith(".jsonl") })
    }

    @Test
    fun aPictureIsTakenForTheLinkThatAsked() {
        bench.start()
        bench.play(bench.loaded(), taps.take(begun))
        var link = Mobile.Origin + Mobile.AttachPath + "kit/open-drop/oximeter"
        val stored = { JSONObject(bench.app.core.get("/today?fresh=x&base=0").body.decodeToString()).getLong("seq") }

        fun follow(): Intent {
            assertTrue(bench.web.webViewClient.shouldOverrideUrlLoading(bench.web, Asked(link)))
            return generateSequence { shadowOf(bench.activity).nextStartedActivityForResult }.map { it.intent }.first { it.action == Intent.ACTION_CHOOSER }
        }
        fun come(sheet: Intent, result: Int, data: Intent?) {
            shadowOf(bench.activity).receiveResult(sheet, result, data)
            bench.settle()
        }
        val before = stored()
        come(follow(), android.app.Activity.RESULT_CANCELED, null)
        come(follow(), android.app.Activity.RESULT_OK, null) // the camera wrote nothing
        assertEquals(before, stored())

        val sheet = follow()
        @Suppress("DEPRECATION")
        val take = sheet.getParcelableArrayExtra(Intent.EXTRA_INITIAL_INTENTS)!!.single() as Intent
        @Suppress("DEPRECATION")
        val to = take.getParcelableExtra<Uri>(android.provider.MediaStore.EXTRA_OUTPUT)!!
        Disk.opened.clear()
        bench.activity.contentResolver.openFileDescriptor(to, "w")!!.close()
        val write = Disk.opened.single().second
        val jpeg = jpeg()
        jpeg.toList().chunked(1000).fold(0L) { at, part -> at + write.onWrite(at, part.size, part.toByteArray()) }
        bench.stop() // the camera is in front
        bench.again()
        val loads = bench.glass.reloadInvocations
        come(sheet, android.app.Activity.RESULT_OK, null)
        assertEquals(before + 1, stored())
        assertEquals(loads + 1, bench.glass.reloadInvocations) // the page shows it

        // Or one that lies there already.
        val there = Uri.parse("content://gallery.invalid/1")
        shadowOf(bench.activity.contentResolver).registerInputStream(there, java.io.ByteArrayInputStream(jpeg))
        come(follow(), android.app.Activity.RESULT_OK, Intent().setData(there))
        assertEquals(before + 2, stored())

        // And into the case, as an entry of its own.
        link = Mobile.Origin + Mobile.AttachPath + "case/" + id
        shadowOf(bench.activity.contentResolver).registerInputStream(there, java.io.ByteArrayInputStream(jpeg))
        come(follow(), android.app.Activity.RESULT_OK, Intent().setData(there))
        assertEquals(before + 3, stored())
    }

    @Test
    fun aFileOfAnyKindIsPickedForTakingIn() {
        bench.start()
        bench.play(bench.loaded(), taps.take(begun))
        val lines = bench.app.core.get("/case/$id/files/lines.jsonl?private=yes").body
        assertTrue(bench.web.webViewClient.shouldOverrideUrlLoading(bench.web, Asked(Mobile.Origin + Mobile.TakeInPath)))
        val asked = generateSequence { shadowOf(bench.activity).nextStartedActivityForResult }.map { it.intent }.first { it.action == Intent.ACTION_OPEN_DOCUMENT }
        assertEquals("*/*", asked.type)
        assertNull(asked.getStringArrayExtra(Intent.EXTRA_MIME_TYPES))
        val there = Uri.parse("content://files.invalid/1")
        shadowOf(bench.activity.contentResolver).registerInputStreamSupplier(there) { java.io.ByteArrayInputStream(lines) }
        val loads = bench.glass.reloadInvocations
        shadowOf(bench.activity).receiveResult(asked, android.app.Activity.RESULT_OK, Intent().setData(there))
        bench.settle()
        assertEquals(loads + 1, bench.glass.reloadInvocations)
        assertTrue(bench.app.core.get("/take-in").body.decodeToString().contains("data-key=\"look\""))
    }

    private fun jpeg(): ByteArray {
        val picture = java.awt.image.BufferedImage(64, 48, java.awt.image.BufferedImage.TYPE_INT_RGB)
        for (x in 0 until 64) for (y in 0 until 48) picture.setRGB(x, y, x * 4 shl 16 or (y * 5 shl 8))
        return java.io.ByteArrayOutputStream().also { javax.imageio.ImageIO.write(picture, "jpeg", it) }.toByteArray()
    }

    @Test
    fun whatIsDueWhileNobodyLooksIsToldByTheSystem() {
        bench.start()
        bench.play(bench.loaded(), taps.take(begun + 10))
        bench.until("alarms") { bench.app.core.standing?.dues?.isNotEmpty() == true }
        bench.stop()
        val dues = bench.app.core.standing!!.dues
        val alarms = bench.app.getSystemService(android.app.AlarmManager::class.java)
        val set = shadowOf(alarms).scheduledAlarms
        assertEquals(dues.size, set.size)
        val first = dues.minByOrNull { it.at }!!
        assertTrue(first.words.isNotEmpty())
        assertEquals(table, first.path)

        val notices = bench.app.getSystemService(android.app.NotificationManager::class.java)
        shadowOf(alarms).fireAlarm(shadowOf(alarms).peekNextScheduledAlarm()!!)
        bench.settle()
        val told = shadowOf(notices).allNotifications.single()
        assertEquals(first.words, told.extras.getString(android.app.Notification.EXTRA_TITLE))

        // It is tapped: the app opens on what is due.
        val tapped = shadowOf(told.contentIntent).savedIntent
        assertEquals(MainActivity::class.java.name, tapped.component!!.className)
        bench.controller.newIntent(tapped)
        bench.again()
        bench.until("the table") { bench.glass.lastLoadedUrl == Mobile.Origin + table }
    }

    @Test
    fun noOtherAppCanSayWhichPageOpens() {
        bench.start()
        for (data in listOf("chinlift:due/no-such-alarm", "https://chinlift.invalid/case/$id/files/lines.jsonl", "chinlift:/today")) {
            bench.controller.newIntent(Intent(Intent.ACTION_VIEW, Uri.parse(data)).putExtra("path", "/today"))
            bench.settle()
            assertEquals(data, Mobile.Origin + "/", bench.glass.lastLoadedUrl)
        }
    }

    @Test
    fun nothingFlashesWhite() {
        bench.start()
        fun ground() = (bench.activity.window.decorView.background as android.graphics.drawable.ColorDrawable).color
        assertEquals(bench.activity.getColor(R.color.ground), ground())
        assertEquals(ground(), bench.glass.backgroundColor)
        // The page has a theme of its own; the next start begins with its ground.
        bench.glass.answers["backgroundColor"] = "\"rgb(1, 2, 3)\""
        bench.loaded()
        val own = android.graphics.Color.rgb(1, 2, 3)
        assertEquals(own, ground())
        bench.controller.recreate()
        bench.settle()
        assertEquals(own, ground())
        assertEquals(own, bench.glass.backgroundColor)
        // The signs of the system can be seen on it, whatever the phone's own theme is.
        for ((css, light) in listOf("\"rgb(251, 248, 241)\"" to true, "\"rgb(18, 22, 27)\"" to false, "\"rgb(251, 248, 241)\"" to true)) {
            bench.glass.answers["backgroundColor"] = css
            bench.loaded()
            assertEquals(css, light, signsAreDark())
            @Suppress("DEPRECATION")
            assertEquals(css, ground(), bench.activity.window.navigationBarColor)
        }
        for (nothing in listOf(null, "null", "\"\"", "\"rgba(0, 0, 0, 0)\"", "rgb(1, 2, 3)")) assertNull(nothing, MainActivity.colour(nothing))
    }

    @Suppress("DEPRECATION")
    private fun signsAreDark(): Boolean {
        val window = bench.activity.window
        if (android.os.Build.VERSION.SDK_INT >= android.os.Build.VERSION_CODES.R) {
            val both = android.view.WindowInsetsController.APPEARANCE_LIGHT_STATUS_BARS or android.view.WindowInsetsController.APPEARANCE_LIGHT_NAVIGATION_BARS
            return window.insetsController!!.systemBarsAppearance and both == both
        }
        val both = android.view.View.SYSTEM_UI_FLAG_LIGHT_STATUS_BAR or android.view.View.SYSTEM_UI_FLAG_LIGHT_NAVIGATION_BAR
        return window.decorView.systemUiVisibility and both == both
    }

    @Test
    fun whatIsDueInTheForegroundIsToldAsTheClinicChose() {
        bench.start()
        val motor = shadowOf(bench.activity.getSystemService(android.os.Vibrator::class.java))
        val due = Due("a", 1, 1, "Pulse", table, sound = false, buzz = false)
        bench.activity.due(due)
        assertFalse(motor.isVibrating) // where ether is, no spark of a motor
        bench.activity.due(due.copy(sound = true))
        assertFalse(motor.isVibrating)
        bench.activity.due(due.copy(buzz = true))
        assertTrue(motor.isVibrating)
    }

    @Test
    fun aTapThatIsOnDiskTicksWhereTheClinicHasItVibrate() {
        bench.start()
        val page = bench.loaded()
        val tick = android.view.HapticFeedbackConstants.VIRTUAL_KEY
        val other = android.view.HapticFeedbackConstants.LONG_PRESS
        fun last() = shadowOf(bench.web).lastHapticFeedbackPerformed()
        bench.play(page, taps.take(begun))
        bench.until("a tick") { last() == tick }

        val choose =
            JSONObject().put("n", 99).put(
                "send",
                JSONObject().put("path", "/settings").put("fields", JSONObject("{\"do\":[\"due-buzz\"],\"value\":[\"no\"]}"))
                    .put("event", "01a21873-0000-7000-8000-000000000002").put("base", 1).put("page", "").put("under", "").put("case", ""),
            )
        val chosen = bench.tap(page, choose.toString())!!
        assertFalse("$chosen", chosen.getJSONObject("answer").has("problem"))
        bench.until("no alarm to vibrate") { bench.app.core.standing!!.dues.none { it.buzz } }
        bench.web.performHapticFeedback(other)
        val stored = chosen.getJSONObject("answer").getLong("seq")
        val next = bench.tap(page, taps[begun].message)!!.getJSONObject("answer")
        assertEquals(stored + 1, next.getLong("seq"))
        bench.until("the shell to hear of it") { bench.app.core.standing!!.stored == stored + 1 }
        assertEquals(other, last())
    }

    @Test
    fun aRecordThatCannotBeOpenedIsSaidInWords() {
        val data = java.io.File(bench.app.filesDir, "data")
        data.writeText("no folder")
        bench.start()
        val a = bench.ask(Mobile.Origin + "/")
        assertEquals(503, a.statusCode)
        val html = a.data.readBytes().decodeToString()
        assertTrue(html, Regex("<p>[A-Z][^<]{20,}<p><a href=\"/\">").containsMatchIn(html))
        assertEquals(Mobile.Policy, a.responseHeaders["Content-Security-Policy"])
        // What was in the way is gone: the next try opens it.
        assertTrue(data.delete())
        assertTrue(bench.page("/").contains("data-page="))
    }
}

package chinlift.phone

import android.app.AlarmManager
import android.app.Notification
import android.app.NotificationManager
import android.content.Intent
import android.os.SystemClock
import java.util.concurrent.TimeUnit
import org.junit.Assert.assertEquals
import org.junit.Assert.assertNull
import org.junit.Assert.assertTrue
import org.junit.Before
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RuntimeEnvironment
import org.robolectric.Shadows.shadowOf
import org.robolectric.annotation.Config
import org.robolectric.shadows.ShadowAlarmManager

/** What the system is given to tell, without the core. */
@RunWith(Runner::class)
@Config(sdk = [26, 34])
class AlarmsTest {
    private val app get() = RuntimeEnvironment.getApplication() as Chinlift
    private val manager = app.getSystemService(AlarmManager::class.java)
    private val notices = app.getSystemService(NotificationManager::class.java)

    @Before
    fun begin() = ShadowAlarmManager.setCanScheduleExactAlarms(true) // as the manifest asks for

    private fun due(name: String, minutes: Long, words: String = "Vital signs", sound: Boolean = true, buzz: Boolean = false): Due {
        val ms = TimeUnit.MINUTES.toMillis(minutes)
        return Due(name, System.currentTimeMillis() + ms, SystemClock.elapsedRealtime() + ms, words, "/case/1/table", sound, buzz)
    }

    private fun set() = shadowOf(manager).scheduledAlarms.map { Alarms.name(shadowOf(it.operation).savedIntent) to it }

    private fun inMinutes(a: ShadowAlarmManager.ScheduledAlarm) = TimeUnit.MILLISECONDS.toMinutes(a.triggerAtTime - System.currentTimeMillis() + 500)

    private fun ring(name: String) {
        shadowOf(manager).fireAlarm(set().single { it.first == name }.second)
        org.robolectric.shadows.ShadowLooper.idleMainLooper()
    }

    private fun told(): List<Notification> = shadowOf(notices).allNotifications

    @Test
    fun whatIsNotAmongThemIsCancelled() {
        val a = due("a.0", 5)
        val b = due("b.0", 10)
        app.alarms.set(listOf(a, b))
        assertEquals(setOf("a.0", "b.0"), set().map { it.first }.toSet())
        assertTrue(set().all { it.second.alarmClockInfo != null }) // what may ring while the phone dozes
        ring("a.0")
        assertEquals(listOf("Vital signs"), told().map { it.extras.getString(Notification.EXTRA_TITLE) })
        app.alarms.set(listOf(b))
        assertEquals(listOf("b.0"), set().map { it.first })
        assertEquals(emptyList<Notification>(), told())
        app.alarms.set(emptyList())
        assertEquals(0, set().size)
    }

    @Test
    fun whatRangDoesNotRingAgain() {
        val a = due("a.0", 5)
        app.alarms.set(listOf(a))
        ring("a.0")
        Alarms(app).set(listOf(a)) // as after the process died
        assertTrue(set().none { it.first == "a.0" })
        assertNull(app.alarms.rung("a.0"))
        assertEquals(a.path, app.alarms.path("a.0"))
        // At another time it is another alarm.
        app.alarms.set(listOf(due("a.0", 9)))
        assertEquals(9, inMinutes(set().single().second))
    }

    @Test
    fun inTheForegroundTheCoreTellsItself() {
        app.alarms.set(listOf(due("a.0", 5)))
        app.shown = true
        ring("a.0")
        assertEquals(0, told().size)
    }

    @Test
    fun eachWayOfTellingHasAChannel() {
        for ((sound, buzz) in listOf(true to true, true to false, false to true, false to false)) {
            val name = "$sound.$buzz"
            app.alarms.set(listOf(due(name, 1, name, sound, buzz)))
            ring(name)
            val n = told().single { it.extras.getString(Notification.EXTRA_TITLE) == name }
            val channel = notices.getNotificationChannel(n.channelId)
            assertEquals(name, sound, channel.sound != null)
            assertEquals(name, buzz, channel.shouldVibrate())
            assertEquals(Notification.VISIBILITY_PUBLIC, n.visibility)
            assertEquals(Notification.CATEGORY_ALARM, n.category)
        }
    }

    @Test
    fun theSameDueTellsOnceAMinuteInOnePlace() {
        app.alarms.set(listOf(due("a.0", 1), due("a.1", 2), due("b.0", 2, "Pulse")))
        ring("a.0")
        ring("a.1")
        ring("b.0")
        assertEquals(listOf("Pulse", "Vital signs"), told().map { it.extras.getString(Notification.EXTRA_TITLE)!! }.sorted())
    }

    @Test
    fun aStartOfThePhoneForgetsNone() {
        val a = due("a.0", 30)
        app.alarms.set(listOf(a))
        manager.cancel(set().single().second.operation!!) // as a start does
        assertEquals(0, set().size)
        val back = a.copy(sinceBoot = a.sinceBoot - TimeUnit.HOURS.toMillis(5)) // from which nothing can be counted any more
        app.alarms.set(listOf(back))
        Bell().onReceive(app, Intent(Intent.ACTION_BOOT_COMPLETED))
        assertEquals(30, inMinutes(set().single().second))
        Bell().onReceive(app, Intent(Intent.ACTION_TIME_CHANGED))
        assertEquals(30, inMinutes(set().single().second))
    }

    @Test
    fun aClockThatIsSetMovesNone() {
        app.alarms.set(listOf(due("a.0", 30)))
        // The wall clock goes back an hour: the alarm clock of the system would ring an hour late.
        val late = app.alarms
        val a = due("a.0", 30)
        late.set(listOf(a.copy(at = a.at + TimeUnit.HOURS.toMillis(1))))
        Bell().onReceive(app, Intent(Intent.ACTION_TIME_CHANGED))
        assertEquals(30, inMinutes(set().single().second))
    }

    @Test
    @Config(sdk = [34])
    fun withoutTheRightToBeExactTheyComeAsWellAsTheyMay() {
        ShadowAlarmManager.setCanScheduleExactAlarms(false)
        app.alarms.set(listOf(due("a.0", 5)))
        assertEquals(5, inMinutes(set().single().second))
        assertNull(set().single().second.alarmClockInfo)
        // It is given back: they are exact again.
        ShadowAlarmManager.setCanScheduleExactAlarms(true)
        Bell().onReceive(app, Intent(AlarmManager.ACTION_SCHEDULE_EXACT_ALARM_PERMISSION_STATE_CHANGED))
        assertEquals(5, inMinutes(set().single().second))
        assertTrue(set().single().second.alarmClockInfo != null)
    }

    @Test
    fun aDamagedFileIsNone() {
        java.io.File(app.noBackupFilesDir, "alarms.json").writeText("[{")
        assertNull(Alarms(app).path("a.0"))
    }
}

package chinlift.phone

import android.app.AlarmManager
import android.app.Notification
import android.app.NotificationChannel
import android.app.NotificationManager
import android.app.PendingIntent
import android.content.BroadcastReceiver
import android.content.Context
import android.content.Intent
import android.media.AudioAttributes
import android.media.RingtoneManager
import android.net.Uri
import android.os.Build
import android.os.SystemClock
import android.util.AtomicFile
import java.io.File
import java.io.IOException
import org.json.JSONArray
import org.json.JSONException
import org.json.JSONObject

/**
 * Alarms has the system tell what is due while nobody looks at the app: also when the process is
 * gone, the phone dozes, or it was started anew.
 *
 * What is set is kept in a file, because the system gives no list of it and forgets it at a start.
 * The file names nobody, like the alarms themselves. An alarm counts from the phone's start, so that
 * a clock that is set does not move it; after a start, from which nothing can be counted, it counts
 * by the wall clock.
 */
class Alarms(private val context: Context) {
    private val manager = context.getSystemService(AlarmManager::class.java)
    private val notices = context.getSystemService(NotificationManager::class.java)
    private val file = AtomicFile(File(context.noBackupFilesDir, "alarms.json"))
    private var set: Map<String, Entry> = read()

    private data class Entry(val due: Due, val rung: Boolean)

    /** set has these told and no others. One that was told is not told again. */
    @Synchronized
    fun set(dues: List<Due>) {
        val before = set
        val now = dues.associate { d -> d.name to Entry(d, before[d.name].let { it != null && it.rung && it.due.at == d.at }) }
        if (now == before) return
        for ((name, e) in before - now.keys) {
            manager.cancel(ring(name))
            notices.cancel(place(e.due), NOTICE)
        }
        for ((name, e) in now) if (!e.rung && e != before[name]) wind(e.due)
        keep(now)
    }

    /** anew sets all again, after a start of the phone, or after its clock was set. */
    @Synchronized
    fun anew(started: Boolean) {
        if (started) {
            val ahead = SystemClock.elapsedRealtime() - System.currentTimeMillis()
            keep(set.mapValues { (_, e) -> e.copy(due = e.due.copy(sinceBoot = e.due.at + ahead)) })
        }
        for (e in set.values) if (!e.rung) wind(e.due)
    }

    /** rung takes note that one was told, and gives it; null: it is not set any more, or was told. */
    @Synchronized
    fun rung(name: String): Due? {
        val e = set[name]?.takeUnless { it.rung } ?: return null
        keep(set + (name to e.copy(rung = true)))
        return e.due
    }

    /** path is that of the page that an alarm leads to. */
    @Synchronized
    fun path(name: String): String? = set[name]?.due?.path

    /** show tells one by a notification, which may stand on a locked screen: it names nobody. */
    fun show(due: Due) {
        val channel = channel(due.sound, due.buzz)
        val notice =
            Notification.Builder(context, channel)
                .setSmallIcon(R.drawable.ic_due)
                .setContentTitle(due.words)
                .setContentIntent(tapped(due.name))
                .setCategory(Notification.CATEGORY_ALARM)
                .setVisibility(Notification.VISIBILITY_PUBLIC)
                .setWhen(due.at)
                .setShowWhen(true)
                .setAutoCancel(true)
                .build()
        notices.notify(place(due), NOTICE, notice)
    }

    // What is told every minute while it is over stands in one place.
    private fun place(due: Due) = due.path + " " + due.words

    // A channel's sound and vibration cannot be changed by the app later, so that there is one for
    // each that a clinic may choose.
    private fun channel(sound: Boolean, buzz: Boolean): String {
        val id = "due" + (if (sound) "-sound" else "") + (if (buzz) "-buzz" else "")
        val name =
            when {
                sound && buzz -> R.string.channel_sound_buzz
                sound -> R.string.channel_sound
                buzz -> R.string.channel_buzz
                else -> R.string.channel_silent
            }
        val made = NotificationChannel(id, context.getString(name), NotificationManager.IMPORTANCE_HIGH)
        if (sound) {
            val alarm = AudioAttributes.Builder().setUsage(AudioAttributes.USAGE_ALARM).build()
            made.setSound(RingtoneManager.getDefaultUri(RingtoneManager.TYPE_NOTIFICATION), alarm)
        } else {
            made.setSound(null, null)
        }
        made.enableVibration(buzz)
        if (buzz) made.vibrationPattern = BUZZ
        made.lockscreenVisibility = Notification.VISIBILITY_PUBLIC
        notices.createNotificationChannel(made)
        return id
    }

    // The system delays every other kind of alarm while the phone dozes, by up to a quarter of an
    // hour. An alarm clock goes by the wall clock alone; when that is set, all are set anew.
    private fun wind(due: Due) {
        val at = System.currentTimeMillis() + due.sinceBoot - SystemClock.elapsedRealtime()
        val exact = Build.VERSION.SDK_INT < Build.VERSION_CODES.S || manager.canScheduleExactAlarms()
        if (exact) {
            manager.setAlarmClock(AlarmManager.AlarmClockInfo(at, tapped(due.name)), ring(due.name))
        } else { // the user took that right away
            manager.setAndAllowWhileIdle(AlarmManager.RTC_WAKEUP, at, ring(due.name))
        }
    }

    private fun uri(name: String) = Uri.Builder().scheme("chinlift").opaquePart("due/$name").build()

    private fun ring(name: String): PendingIntent =
        PendingIntent.getBroadcast(context, 0, Intent(RING, uri(name), context, Bell::class.java), FLAGS)

    // It carries only the name: any app may start the Activity, so that it takes a path from nobody.
    private fun tapped(name: String): PendingIntent =
        PendingIntent.getActivity(context, 0, Intent(OPEN, uri(name), context, MainActivity::class.java), FLAGS)

    private fun keep(now: Map<String, Entry>) {
        set = now
        val all = JSONArray()
        for (e in now.values) {
            val d = e.due
            all.put(
                JSONObject().put("name", d.name).put("at", d.at).put("since_boot", d.sinceBoot).put("words", d.words)
                    .put("path", d.path).put("sound", d.sound).put("buzz", d.buzz).put("rung", e.rung),
            )
        }
        try {
            val to = file.startWrite()
            try {
                to.write(all.toString().toByteArray())
                file.finishWrite(to)
            } catch (e: IOException) {
                file.failWrite(to)
            }
        } catch (_: IOException) {
            // They are set all the same; only a start of the phone would forget them.
        }
    }

    private fun read(): Map<String, Entry> =
        try {
            val all = JSONArray(String(file.readFully()))
            (0 until all.length()).map(all::getJSONObject).associate { o ->
                val due =
                    Due(
                        o.getString("name"), o.getLong("at"), o.getLong("since_boot"), o.getString("words"),
                        o.getString("path"), o.getBoolean("sound"), o.getBoolean("buzz"),
                    )
                due.name to Entry(due, o.getBoolean("rung"))
            }
        } catch (_: IOException) {
            emptyMap() // none was set yet
        } catch (_: JSONException) {
            emptyMap() // damaged: the core says all of them again when it is opened
        }

    companion object {
        const val RING = "chinlift.phone.RING"
        const val OPEN = "chinlift.phone.OPEN"

        /** BUZZ is how a due is felt: pauses and pulses in ms (house choice, no source). */
        val BUZZ = longArrayOf(0, 200, 100, 200)
        private const val NOTICE = 1
        private const val FLAGS = PendingIntent.FLAG_IMMUTABLE or PendingIntent.FLAG_UPDATE_CURRENT

        /** name is that of the alarm that an Intent is about; null: of none. */
        fun name(intent: Intent?): String? =
            intent?.data?.takeIf { it.scheme == "chinlift" }?.schemeSpecificPart?.removePrefix("due/")
    }
}

/**
 * Bell is rung by the system: when something is due, when the phone has started, when its clock was
 * set, when the right to be exact came or went.
 */
class Bell : BroadcastReceiver() {
    override fun onReceive(context: Context, intent: Intent) {
        val app = context.applicationContext as Chinlift
        when (intent.action) {
            Alarms.RING -> {
                val due = app.alarms.rung(Alarms.name(intent) ?: return) ?: return
                if (!app.shown) app.alarms.show(due)
            }
            Intent.ACTION_BOOT_COMPLETED -> app.alarms.anew(started = true)
            // The right to be exact was given or taken: what is set is set by what holds now.
            Intent.ACTION_TIME_CHANGED, AlarmManager.ACTION_SCHEDULE_EXACT_ALARM_PERMISSION_STATE_CHANGED ->
                app.alarms.anew(started = false)
        }
    }
}

package chinlift.phone

import android.content.Context
import android.os.BatteryManager
import android.os.StatFs
import android.os.SystemClock
import android.provider.Settings
import java.util.Locale
import java.util.TimeZone
import java.util.UUID
import mobile.Platform

/**
 * Phone is what only the phone has, lent to the core. But for wrap and unwrap nothing here may throw:
 * what a service of the system refuses is answered as not known.
 */
class Phone(private val context: Context, private val vault: Vault) : Platform {
    // Where the system does not count its starts, each process counts as one: then no two times are
    // compared that may not be.
    private val boot: String by lazy {
        val count = orElse(-1) { Settings.Global.getInt(context.contentResolver, Settings.Global.BOOT_COUNT, -1) }
        if (count >= 0) "start-$count" else "process-${UUID.randomUUID()}"
    }

    private val battery = context.getSystemService(BatteryManager::class.java)

    override fun sinceBoot(): Long = SystemClock.elapsedRealtime()

    override fun boot(): String = boot

    override fun zone(): String = TimeZone.getDefault().id

    override fun zoneOffset(): Long = TimeZone.getDefault().getOffset(System.currentTimeMillis()) / 1000L

    override fun freeBytes(): Long = orElse(-1) { StatFs(context.filesDir.path).availableBytes }

    override fun battery(): Long {
        val percent = orElse(-1) { battery.getIntProperty(BatteryManager.BATTERY_PROPERTY_CAPACITY) }
        return if (percent in 0..100) percent.toLong() else -1
    }

    override fun charging(): Boolean = orElse(false) { battery.isCharging }

    override fun language(): String = Locale.getDefault().toLanguageTag()

    override fun fullSync(): Boolean = false

    override fun wrap(secret: ByteArray?): ByteArray = vault.seal(secret ?: ByteArray(0))

    override fun unwrap(wrapped: ByteArray?): ByteArray = vault.open(wrapped ?: ByteArray(0))

    private inline fun <T> orElse(unknown: T, ask: () -> T): T =
        try {
            ask()
        } catch (_: RuntimeException) {
            unknown
        }
}

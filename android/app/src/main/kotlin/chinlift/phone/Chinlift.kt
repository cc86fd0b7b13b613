package chinlift.phone

import android.app.Application

/**
 * Chinlift is the process. It opens nothing by itself: an alarm that wakes the process must not open
 * the record for it.
 */
class Chinlift : Application() {
    val alarms by lazy { Alarms(this) }
    val core by lazy { Core(this, alarms) }

    /** Whether the Activity is in the foreground: there the core tells itself what is due. */
    var shown = false
}

package chinlift.phone

import mobile.Alarm
import mobile.Notice

/** Standing is how the phone is to stand, as the core last said: a copy, since a Notice lives in Go. */
data class Standing(
    val stored: Long,
    val screenOn: Boolean,
    val markKey: Boolean,
    val path: String,
    val dues: List<Due>,
) {
    constructor(n: Notice) : this(
        n.stored,
        n.screenOn,
        n.markKey,
        n.path,
        (0 until n.alarms()).mapNotNull { i -> n.alarm(i)?.let(::Due) },
    )
}

/**
 * Due is an alarm of the core: what is due, and when, by the wall clock and by the clock that counts
 * from the phone's start, both in milliseconds. It names nobody.
 */
data class Due(
    val name: String,
    val at: Long,
    val sinceBoot: Long,
    val words: String,
    val path: String,
    val sound: Boolean,
    val buzz: Boolean,
) {
    constructor(a: Alarm) : this(a.name, a.at, a.sinceBoot, a.words, a.path, a.sound, a.buzz)
}

import AVFoundation
import AudioToolbox
import Mobile
import UserNotifications

/// Something that will be due, as it was when the companion told it.
struct Alarm {
    let name: String
    let words: String
    let path: String
    let sinceBoot: Int64
    let sound: Bool

    init(_ alarm: MobileAlarm) {
        name = alarm.name
        words = alarm.words
        path = alarm.path
        sinceBoot = alarm.sinceBoot
        sound = alarm.sound
    }
}

/// Tells what is due: by notifications while the app is away, by sound and
/// vibration while it is in front.
final class Alarms {
    static let pathKey = "path"
    private let center = UNUserNotificationCenter.current()
    private var asked = false
    private lazy var tone: AVAudioPlayer? = try? AVAudioPlayer(data: Alarms.beep())

    /// Sets these alarms and no others. They go by the clock since boot: a
    /// phone that is set to another time keeps them.
    func set(_ alarms: [Alarm], now: Int64) {
        if !alarms.isEmpty && !asked {
            asked = true
            center.requestAuthorization(options: [.alert, .sound]) { _, _ in }
        }
        center.removeAllPendingNotificationRequests()
        for alarm in alarms {
            let content = UNMutableNotificationContent()
            content.body = alarm.words
            content.userInfo = [Alarms.pathKey: alarm.path]
            content.sound = alarm.sound ? .default : nil
            content.interruptionLevel = .timeSensitive
            let seconds = max(1, Double(alarm.sinceBoot - now) / 1000)
            let trigger = UNTimeIntervalNotificationTrigger(timeInterval: seconds, repeats: false)
            center.add(UNNotificationRequest(identifier: alarm.name, content: content, trigger: trigger))
        }
    }

    /// What was told while the app was away is on its screen now.
    func forgetDelivered() {
        center.removeAllDeliveredNotifications()
    }

    func tell(sound: Bool, buzz: Bool) {
        if buzz {
            AudioServicesPlaySystemSound(kSystemSoundID_Vibrate)
        }
        if sound {
            // The clinic chose that it sounds: the silent switch does not hold it.
            try? AVAudioSession.sharedInstance().setCategory(.playback, options: [.mixWithOthers])
            tone?.play()
        }
    }

    /// A third of a second of 660 Hz, as a WAV file of 16 bits at 8 kHz: the
    /// sound that the pages make on a desk (house choice).
    private static func beep() -> Data {
        let rate = 8000, count = rate * 3 / 10
        var samples = Data()
        for i in 0..<count {
            let fade = min(1, Double(min(i, count - i)) / 80)
            let value = Int16(sin(2 * .pi * 660 * Double(i) / Double(rate)) * fade * 20000)
            withUnsafeBytes(of: value.littleEndian) { samples.append(contentsOf: $0) }
        }
        var file = Data()
        func number<T: FixedWidthInteger>(_ value: T) {
            withUnsafeBytes(of: value.littleEndian) { file.append(contentsOf: $0) }
        }
        file.append(contentsOf: Array("RIFF".utf8))
        number(UInt32(36 + samples.count))
        file.append(contentsOf: Array("WAVEfmt ".utf8))
        number(UInt32(16))
        number(UInt16(1))
        number(UInt16(1))
        number(UInt32(rate))
        number(UInt32(rate * 2))
        number(UInt16(2))
        number(UInt16(16))
        file.append(contentsOf: Array("data".utf8))
        number(UInt32(samples.count))
        file.append(samples)
        return file
    }
}

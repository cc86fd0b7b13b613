import Mobile
import UIKit

/// What only the phone has, lent to the companion. Every answer comes at once
/// and from any thread.
final class Phone: NSObject, MobilePlatformProtocol {
    private let keys = KeyStore()
    private let lock = NSLock()
    private var percent = -1
    private var plugged = false

    // MARK: Clock

    func sinceBoot() -> Int64 {
        var base = mach_timebase_info_data_t()
        mach_timebase_info(&base)
        // In floating point: the product of ticks and numerator would not fit
        // after some weeks. A millisecond is exact for far longer.
        return Int64(Double(mach_continuous_time()) * Double(base.numer) / Double(base.denom) / 1e6)
    }

    func boot() -> String {
        var size = 0
        guard sysctlbyname("kern.bootsessionuuid", nil, &size, nil, 0) == 0, size > 1 else { return "unknown" }
        var text = [CChar](repeating: 0, count: size)
        guard sysctlbyname("kern.bootsessionuuid", &text, &size, nil, 0) == 0 else { return "unknown" }
        return String(cString: text)
    }

    func zone() -> String { TimeZone.autoupdatingCurrent.identifier }

    func zoneOffset() -> Int { TimeZone.autoupdatingCurrent.secondsFromGMT() }

    // MARK: Room, battery, language

    func freeBytes() -> Int64 {
        let home = URL(fileURLWithPath: NSHomeDirectory())
        let values = try? home.resourceValues(forKeys: [.volumeAvailableCapacityForImportantUsageKey])
        return values?.volumeAvailableCapacityForImportantUsage ?? -1
    }

    func battery() -> Int {
        lock.lock()
        defer { lock.unlock() }
        return percent
    }

    func charging() -> Bool {
        lock.lock()
        defer { lock.unlock() }
        return plugged
    }

    /// The battery is read on the main thread, when it changes, and kept for
    /// whoever asks.
    func watchBattery() {
        UIDevice.current.isBatteryMonitoringEnabled = true
        let center = NotificationCenter.default
        for name in [UIDevice.batteryLevelDidChangeNotification, UIDevice.batteryStateDidChangeNotification] {
            center.addObserver(self, selector: #selector(readBattery), name: name, object: nil)
        }
        readBattery()
    }

    @objc private func readBattery() {
        let device = UIDevice.current
        let level = device.batteryLevel
        lock.lock()
        defer { lock.unlock() }
        percent = level < 0 ? -1 : Int((level * 100).rounded())
        plugged = device.batteryState == .charging || device.batteryState == .full
    }

    func language() -> String { Locale.preferredLanguages.first ?? "en" }

    func fullSync() -> Bool { true }

    // MARK: Key store

    func wrap(_ secret: Data?) throws -> Data { try keys.wrap(secret ?? Data()) }

    func unwrap(_ wrapped: Data?) throws -> Data { try keys.unwrap(wrapped ?? Data()) }
}

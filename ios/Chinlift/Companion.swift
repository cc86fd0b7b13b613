import Mobile
import UIKit
import WebKit

/// The Go companion, as the rest of the app sees it. What takes time runs on
/// queues of its own; what the screen hears, it hears on the main thread.
final class Companion: NSObject {
    /// What the screen is asked to do.
    weak var screen: ScreenController? {
        didSet { showStart() }
    }

    private let phone = Phone()
    private let alarms = Alarms()
    private let connection = Connection()

    /// Pages may be asked for side by side; taps come one after the other.
    private let pageQueue = DispatchQueue(label: "pages", qos: .userInitiated, attributes: .concurrent)
    private let tapQueue = DispatchQueue(label: "taps", qos: .userInitiated)
    /// Opening, sleeping and waking, in their order.
    private let lifeQueue = DispatchQueue(label: "life", qos: .userInitiated)

    private let lock = NSLock()
    private var opened: MobileApp?
    private var failure: String?

    /// The page to begin with, by the last notice, and whether the app is in
    /// front; main thread only.
    private var start: String?
    private var inFront = true

    private var app: MobileApp? {
        lock.lock()
        defer { lock.unlock() }
        return opened
    }

    // MARK: Life

    func open() {
        phone.watchBattery()
        lifeQueue.async {
            var app: MobileApp?
            var words: String?
            do {
                let root = try Companion.container()
                var error: NSError?
                app = MobileOpen(root.appendingPathComponent("data").path, root.appendingPathComponent("kept").path, self.phone, &error)
                words = error?.localizedDescription
            } catch {
                words = error.localizedDescription
            }
            self.lock.lock()
            self.opened = app
            self.failure = words
            self.lock.unlock()
            guard let app = app else {
                DispatchQueue.main.async { self.begin(at: "/") }
                return
            }
            try? app.watch(self)
            self.connection.tell { how in try? app.connected(how) }
        }
    }

    /// The app's own container, which no other app reaches, and which no backup
    /// and no move to another phone takes along.
    private static func container() throws -> URL {
        var root = try FileManager.default.url(for: .applicationSupportDirectory, in: .userDomainMask, appropriateFor: nil, create: true)
            .appendingPathComponent("Chinlift", isDirectory: true)
        // Readable from the first unlocking after a start on: a phone that is
        // locked with a case open must still finish what was tapped.
        try FileManager.default.createDirectory(
            at: root, withIntermediateDirectories: true,
            attributes: [.protectionKey: FileProtectionType.completeUntilFirstUserAuthentication])
        var values = URLResourceValues()
        values.isExcludedFromBackup = true
        try root.setResourceValues(values)
        return root
    }

    /// Closes the database before the system suspends the process: an app that
    /// holds a lock on a file then is ended.
    func suspend() {
        let application = UIApplication.shared
        inFront = false
        application.isIdleTimerDisabled = false
        var task = UIBackgroundTaskIdentifier.invalid
        let end = {
            if task != .invalid {
                application.endBackgroundTask(task)
                task = .invalid
            }
        }
        task = application.beginBackgroundTask(withName: "suspend", expirationHandler: end)
        lifeQueue.async {
            try? self.app?.suspend()
            DispatchQueue.main.async(execute: end)
        }
    }

    func resume() {
        inFront = true
        alarms.forgetDelivered()
        lifeQueue.async {
            guard let app = self.app else { return }
            do {
                try app.resume()
                DispatchQueue.main.async { self.screen?.freshen() }
            } catch {
                // The pages say so themselves, each time one is asked for.
                DispatchQueue.main.async { self.screen?.open(self.start ?? "/") }
            }
        }
    }

    // MARK: Pages and taps

    /// Answers a path with its query on the main thread.
    func page(_ path: String, then: @escaping (Result<MobilePage, Error>) -> Void) {
        pageQueue.async {
            let answer = Result { () throws -> MobilePage in
                guard let app = self.app else { throw Closed(words: self.failureWords) }
                return try app.get(path)
            }
            DispatchQueue.main.async { then(answer) }
        }
    }

    /// Hands over what came over the message port and answers what goes back
    /// over it; nil: nothing does.
    func send(_ message: String, then: @escaping (String?) -> Void) {
        tapQueue.async {
            let answer = self.app?.send(message) ?? ""
            DispatchQueue.main.async { then(answer.isEmpty ? nil : answer) }
        }
    }

    /// Puts a picture where a page asked for one.
    func attach(_ picture: Data, to path: String, then: @escaping (Error?) -> Void) {
        tapQueue.async {
            var failed: Error?
            do {
                guard let app = self.app else { throw Closed(words: self.failureWords) }
                try app.attach(path, file: picture)
            } catch {
                failed = error
            }
            DispatchQueue.main.async { then(failed) }
        }
    }

    /// How many bytes of a file go at once, as the contract says.
    private static let piece = 4 << 20

    /// Hands over a file that was picked, in pieces, however large it is.
    func attach(contentsOf file: URL, to path: String, then: @escaping (Error?) -> Void) {
        tapQueue.async {
            var failed: Error?
            let lent = file.startAccessingSecurityScopedResource()
            do {
                guard let app = self.app else { throw Closed(words: self.failureWords) }
                let data = try Data(contentsOf: file, options: .mappedIfSafe)
                var at = 0
                repeat {
                    let end = min(at + Companion.piece, data.count)
                    try app.attach("\(path)?at=\(at)&of=\(data.count)", file: data.subdata(in: at..<end))
                    at = end
                } while at < data.count
            } catch {
                failed = error
            }
            if lent { file.stopAccessingSecurityScopedResource() }
            DispatchQueue.main.async { then(failed) }
        }
    }

    private var failureWords: String {
        lock.lock()
        defer { lock.unlock() }
        return failure ?? "The companion is being opened."
    }

    // MARK: Where to begin

    private func begin(at path: String) {
        start = path
        showStart()
    }

    private func showStart() {
        if let start = start, let screen = screen, !screen.hasPage {
            screen.open(start)
        }
    }

    /// Opens the page that a notification is about.
    func show(_ path: String) {
        start = path
        screen?.open(path)
    }

    /// The page to open once the web view's process has died: an open case
    /// comes back on the table.
    var startPath: String { start ?? "/" }
}

/// The companion could not be opened.
struct Closed: LocalizedError {
    let words: String
    var errorDescription: String? { words }
}

extension Companion: MobileWatcherProtocol {
    func changed(_ n: MobileNotice?) {
        guard let n = n else { return }
        let screenOn = n.screenOn, path = n.path
        let due = (0..<n.alarms()).compactMap { n.alarm($0) }.map { Alarm($0) }
        DispatchQueue.main.async {
            UIApplication.shared.isIdleTimerDisabled = screenOn && self.inFront
            self.alarms.set(due, now: self.phone.sinceBoot())
            self.begin(at: path)
        }
    }

    func due(_ alarm: MobileAlarm?) {
        guard let alarm = alarm else { return }
        let sound = alarm.sound, buzz = alarm.buzz
        DispatchQueue.main.async {
            self.alarms.tell(sound: sound, buzz: buzz)
            self.screen?.freshen()
        }
    }

    func recorded() {
        DispatchQueue.main.async { UIImpactFeedbackGenerator(style: .light).impactOccurred() }
    }
}

import Foundation
import Mobile
import Network

/// How the phone is connected. It opens no connection itself.
final class Connection {
    private let monitor = NWPathMonitor()
    private let queue = DispatchQueue(label: "connection")

    /// Tells now and whenever it changes.
    func tell(_ heard: @escaping (Int) -> Void) {
        monitor.pathUpdateHandler = { path in
            switch path.status {
            case .satisfied where path.isExpensive || path.isConstrained:
                heard(Int(MobileConnectionMetered))
            case .satisfied:
                heard(Int(MobileConnectionFree))
            default:
                heard(Int(MobileConnectionNone))
            }
        }
        monitor.start(queue: queue)
    }
}

import CryptoKit
import Foundation
import Security

/// Seals small secrets with a key that lies in the keychain of this phone
/// alone: no backup and no other phone gets it. It can be used from the first
/// unlocking after a start on.
final class KeyStore {
    private static let account = "wrapping-key"
    private let lock = NSLock()

    func wrap(_ secret: Data) throws -> Data {
        guard let sealed = try AES.GCM.seal(secret, using: key()).combined else { throw KeyStoreError(status: errSecParam) }
        return sealed
    }

    func unwrap(_ wrapped: Data) throws -> Data {
        try AES.GCM.open(AES.GCM.SealedBox(combined: wrapped), using: key())
    }

    /// The key, made when there is none. Only where the keychain says that
    /// there is none: where it cannot tell, what is sealed must stay readable.
    private func key() throws -> SymmetricKey {
        lock.lock()
        defer { lock.unlock() }
        var query = KeyStore.item
        query[kSecReturnData as String] = true
        var found: CFTypeRef?
        switch SecItemCopyMatching(query as CFDictionary, &found) {
        case errSecSuccess:
            guard let data = found as? Data, data.count == 32 else { throw KeyStoreError(status: errSecDecode) }
            return SymmetricKey(data: data)
        case errSecItemNotFound:
            let fresh = SymmetricKey(size: .bits256)
            var item = KeyStore.item
            item[kSecValueData as String] = fresh.withUnsafeBytes { Data($0) }
            item[kSecAttrAccessible as String] = kSecAttrAccessibleAfterFirstUnlockThisDeviceOnly
            let status = SecItemAdd(item as CFDictionary, nil)
            guard status == errSecSuccess else { throw KeyStoreError(status: status) }
            return fresh
        case let status:
            throw KeyStoreError(status: status)
        }
    }

    private static var item: [String: Any] {
        [
            kSecClass as String: kSecClassGenericPassword,
            kSecAttrService as String: "chinlift",
            kSecAttrAccount as String: account,
        ]
    }
}

struct KeyStoreError: LocalizedError {
    let status: OSStatus
    var errorDescription: String? { "keychain: \(status)" }
}

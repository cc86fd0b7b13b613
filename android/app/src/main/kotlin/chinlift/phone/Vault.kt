package chinlift.phone

import android.security.keystore.KeyGenParameterSpec
import android.security.keystore.KeyProperties
import java.security.GeneralSecurityException
import java.security.KeyStore
import javax.crypto.Cipher
import javax.crypto.KeyGenerator
import javax.crypto.SecretKey
import javax.crypto.spec.GCMParameterSpec

/**
 * Vault seals the core's secrets with a key that never leaves the phone's key store: AES-256 in GCM
 * mode (NIST SP 800-38D). The key asks for no fingerprint and no code, because an entry must go in
 * while both hands are elsewhere; it lies on no other phone, so that what is sealed here opens
 * nowhere else.
 *
 * What is sealed begins with a byte that tells the form, then the nonce, which the key store makes,
 * then the sealed bytes with their tag.
 */
class Vault {
    /** seal wraps a secret. It throws where the key store cannot. */
    @Synchronized
    fun seal(secret: ByteArray): ByteArray {
        val cipher = Cipher.getInstance(FORM)
        cipher.init(Cipher.ENCRYPT_MODE, key() ?: make())
        val nonce = cipher.iv
        check(nonce.size == NONCE) { "a nonce of ${nonce.size} bytes" }
        cipher.updateAAD(PURPOSE)
        return byteArrayOf(VERSION) + nonce + cipher.doFinal(secret)
    }

    /** open gives back what was sealed. It throws on what was not sealed here, or was changed. */
    @Synchronized
    fun open(sealed: ByteArray): ByteArray {
        if (sealed.size <= NONCE || sealed[0] != VERSION) throw GeneralSecurityException("not sealed by this app")
        val key = key() ?: throw GeneralSecurityException("the key store has no key of this app")
        val cipher = Cipher.getInstance(FORM)
        cipher.init(Cipher.DECRYPT_MODE, key, GCMParameterSpec(TAG_BITS, sealed, 1, NONCE))
        cipher.updateAAD(PURPOSE)
        return cipher.doFinal(sealed, 1 + NONCE, sealed.size - 1 - NONCE)
    }

    private fun key(): SecretKey? = KeyStore.getInstance(STORE).apply { load(null) }.getKey(ALIAS, null) as SecretKey?

    private fun make(): SecretKey {
        val spec =
            KeyGenParameterSpec.Builder(ALIAS, KeyProperties.PURPOSE_ENCRYPT or KeyProperties.PURPOSE_DECRYPT)
                .setBlockModes(KeyProperties.BLOCK_MODE_GCM)
                .setEncryptionPaddings(KeyProperties.ENCRYPTION_PADDING_NONE)
                .setKeySize(KEY_BITS)
                .build()
        return KeyGenerator.getInstance(KeyProperties.KEY_ALGORITHM_AES, STORE).apply { init(spec) }.generateKey()
    }

    private companion object {
        const val STORE = "AndroidKeyStore"
        const val ALIAS = "chinlift.wrap"
        const val FORM = "AES/GCM/NoPadding"
        const val VERSION: Byte = 1
        const val NONCE = 12
        const val KEY_BITS = 256
        const val TAG_BITS = 128
        val PURPOSE = "chinlift wrapped secret 1".toByteArray()
    }
}

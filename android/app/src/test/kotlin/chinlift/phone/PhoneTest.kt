package chinlift.phone

import android.Manifest
import android.content.pm.ActivityInfo
import android.content.pm.ApplicationInfo
import android.content.pm.PackageManager
import android.os.BatteryManager
import android.provider.Settings
import java.io.InputStream
import java.io.OutputStream
import java.security.GeneralSecurityException
import java.security.Key
import java.security.KeyStoreSpi
import java.security.Provider
import java.security.SecureRandom
import java.security.Security
import java.security.cert.Certificate
import java.security.spec.AlgorithmParameterSpec
import java.util.Collections
import java.util.Date
import java.util.Enumeration
import java.util.TimeZone
import javax.crypto.KeyGeneratorSpi
import javax.crypto.SecretKey
import javax.crypto.spec.SecretKeySpec
import org.junit.After
import org.junit.Assert.assertArrayEquals
import org.junit.Assert.assertEquals
import org.junit.Assert.assertFalse
import org.junit.Assert.assertNotEquals
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RuntimeEnvironment
import org.robolectric.Shadows.shadowOf
import org.robolectric.annotation.Config

/** Chest stands for the phone's key store: the same calls, with keys in memory. */
class Chest : Provider("AndroidKeyStore", 1.0, "for tests") {
    init {
        put("KeyStore.AndroidKeyStore", Store::class.java.name)
        put("KeyGenerator.AES", Maker::class.java.name)
    }

    class Maker : KeyGeneratorSpi() {
        private lateinit var spec: android.security.keystore.KeyGenParameterSpec

        override fun engineInit(random: SecureRandom?) = throw UnsupportedOperationException()

        override fun engineInit(size: Int, random: SecureRandom?) = throw UnsupportedOperationException()

        override fun engineInit(params: AlgorithmParameterSpec, random: SecureRandom?) {
            spec = params as android.security.keystore.KeyGenParameterSpec
        }

        override fun engineGenerateKey(): SecretKey {
            assertEquals(256, spec.keySize)
            assertFalse(spec.isUserAuthenticationRequired) // an entry goes in without anybody's finger
            val bytes = ByteArray(spec.keySize / 8).also(SecureRandom()::nextBytes)
            return SecretKeySpec(bytes, "AES").also { keys[spec.keystoreAlias] = it }
        }
    }

    class Store : KeyStoreSpi() {
        override fun engineGetKey(alias: String, password: CharArray?): Key? = keys[alias]

        override fun engineLoad(stream: InputStream?, password: CharArray?) = Unit

        override fun engineContainsAlias(alias: String) = alias in keys

        override fun engineSize() = keys.size

        override fun engineAliases(): Enumeration<String> = Collections.enumeration(keys.keys)

        override fun engineIsKeyEntry(alias: String) = alias in keys

        override fun engineIsCertificateEntry(alias: String) = false

        override fun engineGetCertificateChain(alias: String): Array<Certificate>? = null

        override fun engineGetCertificate(alias: String): Certificate? = null

        override fun engineGetCertificateAlias(certificate: Certificate?): String? = null

        override fun engineGetCreationDate(alias: String): Date? = null

        override fun engineDeleteEntry(alias: String) {
            keys.remove(alias)
        }

        override fun engineSetKeyEntry(a: String, k: Key, p: CharArray?, c: Array<Certificate>?) = throw UnsupportedOperationException()

        override fun engineSetKeyEntry(a: String, k: ByteArray, c: Array<Certificate>?) = throw UnsupportedOperationException()

        override fun engineSetCertificateEntry(a: String, c: Certificate) = throw UnsupportedOperationException()

        override fun engineStore(stream: OutputStream?, password: CharArray?) = throw UnsupportedOperationException()
    }

    companion object {
        val keys = mutableMapOf<String, SecretKey>()
    }
}

/** What the phone lends the core, and what it lets others have. */
@RunWith(Runner::class)
@Config(sdk = [26, 34])
class PhoneTest {
    private val app get() = RuntimeEnvironment.getApplication() as Chinlift
    private val zone = TimeZone.getDefault()

    @After
    fun end() {
        TimeZone.setDefault(zone)
        Security.removeProvider("AndroidKeyStore")
        Chest.keys.clear()
    }

    @Test
    fun aSecretIsWrappedByTheKeyStore() {
        Security.addProvider(Chest())
        val phone = Phone(app, Vault())
        val secret = ByteArray(64 shl 10) { it.toByte() }
        val wrapped = phone.wrap(secret)
        assertArrayEquals(secret, Phone(app, Vault()).unwrap(wrapped))
        assertArrayEquals(ByteArray(0), phone.unwrap(phone.wrap(null)))
        assertNotEquals(wrapped.toList(), phone.wrap(secret).toList()) // never the same nonce
        assertEquals(secret.size + 1 + 12 + 16, wrapped.size)
        for (at in listOf(0, 1, 12, 13, wrapped.size - 1)) {
            val changed = wrapped.clone().also { it[at] = (it[at] + 1).toByte() }
            assertTrue("byte $at", runCatching { phone.unwrap(changed) }.exceptionOrNull() is GeneralSecurityException)
        }
        for (short in listOf(null, ByteArray(0), byteArrayOf(1), wrapped.copyOf(13), wrapped.copyOf(20))) {
            assertTrue(runCatching { phone.unwrap(short) }.exceptionOrNull() is GeneralSecurityException)
        }
        Chest.keys.clear() // another phone, or the store was emptied
        assertTrue(runCatching { phone.unwrap(wrapped) }.exceptionOrNull() is GeneralSecurityException)
    }

    @Test
    fun withoutAKeyStoreItSaysSo() {
        assertTrue(runCatching { Phone(app, Vault()).wrap(byteArrayOf(1)) }.exceptionOrNull() is GeneralSecurityException)
    }

    @Test
    fun clockZoneAndPower() {
        val phone = Phone(app, Vault())
        TimeZone.setDefault(TimeZone.getTimeZone("Africa/Lusaka"))
        assertEquals("Africa/Lusaka", phone.zone())
        assertEquals(7200L, phone.zoneOffset())
        TimeZone.setDefault(TimeZone.getTimeZone("Asia/Kathmandu"))
        assertEquals(20700L, phone.zoneOffset())
        assertEquals(android.os.SystemClock.elapsedRealtime(), phone.sinceBoot())
        assertTrue(phone.boot(), phone.boot().startsWith("process-")) // this one counts no starts
        Settings.Global.putInt(app.contentResolver, Settings.Global.BOOT_COUNT, 7)
        assertEquals("start-7", Phone(app, Vault()).boot())
        val battery = shadowOf(app.getSystemService(BatteryManager::class.java))
        battery.setIntProperty(BatteryManager.BATTERY_PROPERTY_CAPACITY, 14)
        battery.setIsCharging(true)
        assertEquals(14L, phone.battery())
        assertTrue(phone.charging())
        battery.setIntProperty(BatteryManager.BATTERY_PROPERTY_CAPACITY, Int.MIN_VALUE) // not known
        assertEquals(-1L, phone.battery())
        assertFalse(phone.fullSync())
        assertTrue(phone.language().isNotEmpty())
    }

    @Test
    fun theManifestGivesNothingAway() {
        @Suppress("DEPRECATION")
        val all =
            app.packageManager.getPackageInfo(
                app.packageName,
                PackageManager.GET_PERMISSIONS or PackageManager.GET_ACTIVITIES or PackageManager.GET_RECEIVERS or
                    PackageManager.GET_PROVIDERS or PackageManager.GET_SERVICES,
            )
        assertEquals(0, all.applicationInfo!!.flags and ApplicationInfo.FLAG_ALLOW_BACKUP)
        assertEquals(26, all.applicationInfo!!.minSdkVersion)
        val old = if (android.os.Build.VERSION.SDK_INT <= 32) setOf("android.permission.SCHEDULE_EXACT_ALARM") else emptySet()
        assertEquals(
            old + setOf(
                Manifest.permission.INTERNET, Manifest.permission.ACCESS_NETWORK_STATE, Manifest.permission.VIBRATE,
                Manifest.permission.RECEIVE_BOOT_COMPLETED, "android.permission.POST_NOTIFICATIONS",
                "android.permission.USE_EXACT_ALARM",
            ),
            all.requestedPermissions!!.toSet(),
        )
        assertEquals(listOf(MainActivity::class.java.name), all.activities!!.map { it.name })
        assertTrue((all.receivers!!.toList() + all.providers!!).none { it.exported })
        assertTrue(all.services.isNullOrEmpty())
        val taken = all.activities!!.single().configChanges
        val turns =
            ActivityInfo.CONFIG_ORIENTATION or ActivityInfo.CONFIG_SCREEN_SIZE or ActivityInfo.CONFIG_UI_MODE or
                ActivityInfo.CONFIG_FONT_SCALE or ActivityInfo.CONFIG_LOCALE or ActivityInfo.CONFIG_KEYBOARD_HIDDEN
        assertEquals(turns, taken and turns)
        // What a backup of either kind would take: nothing.
        for ((file, kinds) in listOf(R.xml.nothing_leaves to 2, R.xml.no_backup to 1)) {
            val domains = mutableListOf<String>()
            val xml = app.resources.getXml(file)
            while (xml.next() != org.xmlpull.v1.XmlPullParser.END_DOCUMENT) {
                if (xml.eventType != org.xmlpull.v1.XmlPullParser.START_TAG) continue
                assertNotEquals("include", xml.name)
                if (xml.name == "exclude") domains += xml.getAttributeValue(null, "domain")
            }
            assertEquals(listOf("database", "external", "file", "root", "sharedpref").flatMap { d -> List(kinds) { d } }, domains.sorted())
        }
    }
}

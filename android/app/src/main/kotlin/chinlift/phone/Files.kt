package chinlift.phone

import android.content.ContentProvider
import android.content.ContentValues
import android.content.Context
import android.content.Intent
import android.database.Cursor
import android.database.MatrixCursor
import android.net.Uri
import android.os.Handler
import android.os.HandlerThread
import android.os.ParcelFileDescriptor
import android.os.ProxyFileDescriptorCallback
import android.os.storage.StorageManager
import android.provider.OpenableColumns
import android.system.ErrnoException
import android.system.OsConstants
import java.io.FileNotFoundException
import java.util.UUID

/**
 * Files is how bytes leave the app and come in without lying on the disk unsealed: what is handed to
 * the share sheet, and the picture that a camera writes. They are held in memory, under names that
 * cannot be guessed, a few at a time, and are gone with the process. Another app reaches only what
 * the user gave it.
 */
class Files : ContentProvider() {
    private val thread by lazy { HandlerThread("files").apply { start() } }

    override fun onCreate(): Boolean = true

    override fun getType(uri: Uri): String? = find(uri)?.media

    override fun query(uri: Uri, columns: Array<out String>?, where: String?, args: Array<out String>?, order: String?): Cursor? {
        val held = find(uri) ?: return null
        val asked = columns ?: arrayOf(OpenableColumns.DISPLAY_NAME, OpenableColumns.SIZE)
        return MatrixCursor(asked, 1).apply {
            addRow(
                asked.map { c ->
                    when (c) {
                        OpenableColumns.DISPLAY_NAME -> held.name
                        OpenableColumns.SIZE -> held.size()
                        else -> null
                    }
                },
            )
        }
    }

    override fun openFile(uri: Uri, mode: String): ParcelFileDescriptor {
        val held = find(uri) ?: throw FileNotFoundException("not there any more")
        val writes = mode.startsWith("w")
        if (writes != held.written || !writes && mode != "r") throw FileNotFoundException("not to be opened so")
        if (writes) held.clear()
        val how = if (writes) ParcelFileDescriptor.MODE_WRITE_ONLY else ParcelFileDescriptor.MODE_READ_ONLY
        val storage = checkNotNull(context).getSystemService(StorageManager::class.java)
        return storage.openProxyFileDescriptor(how, held, Handler(thread.looper))
    }

    override fun insert(uri: Uri, values: ContentValues?): Uri? = null

    override fun delete(uri: Uri, where: String?, args: Array<out String>?): Int = 0

    override fun update(uri: Uri, values: ContentValues?, where: String?, args: Array<out String>?): Int = 0

    /** Held is one file in memory. written says that another app writes it; else it is read. */
    class Held(val name: String, val media: String, private var bytes: ByteArray, val written: Boolean) :
        ProxyFileDescriptorCallback() {
        private var length = bytes.size

        @Synchronized fun size(): Long = length.toLong()

        @Synchronized fun content(): ByteArray = bytes.copyOf(length)

        @Synchronized
        fun clear() {
            length = 0
        }

        override fun onGetSize(): Long = size()

        @Synchronized
        override fun onRead(offset: Long, size: Int, data: ByteArray): Int {
            if (offset >= length) return 0
            val n = minOf(size.toLong(), length - offset).toInt()
            bytes.copyInto(data, 0, offset.toInt(), offset.toInt() + n)
            return n
        }

        @Synchronized
        override fun onWrite(offset: Long, size: Int, data: ByteArray): Int {
            val end = offset + size
            if (!written) throw ErrnoException("write", OsConstants.EBADF)
            if (end > MOST) throw ErrnoException("write", OsConstants.EFBIG)
            if (end > bytes.size) bytes = bytes.copyOf(minOf(MOST, maxOf(end, 2L * bytes.size)).toInt())
            data.copyInto(bytes, offset.toInt(), 0, size)
            length = maxOf(length, end.toInt())
            return size
        }

        override fun onFsync() = Unit

        override fun onRelease() = Unit
    }

    companion object {
        /** MOST is how long a picture may be: the core's own limit. */
        const val MOST = 24L shl 20

        // The sheet, and an app behind it that has not read yet. More would be memory for nothing.
        private const val AT_ONCE = 4
        private val held = LinkedHashMap<String, Held>()

        /** offer holds a file for others to read, and gives its address. */
        fun offer(context: Context, name: String, media: String, bytes: ByteArray): Uri =
            hold(context, Held(name, media, bytes, written = false))

        /** await holds a place for a picture that another app writes. */
        fun await(context: Context): Uri = hold(context, Held("picture.jpg", "image/jpeg", ByteArray(0), written = true))

        /** take gives what was written there, and forgets it; null: nothing was. */
        fun take(uri: Uri): ByteArray? =
            synchronized(held) { held.remove(uri.pathSegments.firstOrNull()) }?.content()?.takeIf { it.isNotEmpty() }

        /** share asks the user whom to hand a file. */
        fun share(context: Context, name: String, media: String, bytes: ByteArray): Intent {
            val uri = offer(context, name, media, bytes)
            val send =
                Intent(Intent.ACTION_SEND).setType(media).putExtra(Intent.EXTRA_STREAM, uri)
                    .addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION)
            send.clipData = android.content.ClipData.newRawUri(name, uri)
            return Intent.createChooser(send, context.getString(R.string.hand_over))
        }

        private fun hold(context: Context, file: Held): Uri {
            val key = UUID.randomUUID().toString()
            synchronized(held) {
                held[key] = file
                while (held.size > AT_ONCE) held.remove(held.keys.first())
            }
            return Uri.Builder().scheme("content").authority(context.packageName + ".files")
                .appendPath(key).appendPath(file.name).build()
        }

        private fun find(uri: Uri): Held? = synchronized(held) { held[uri.pathSegments.firstOrNull()] }
    }
}

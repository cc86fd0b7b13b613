package chinlift.phone

import java.io.File
import java.util.concurrent.CountDownLatch
import mobile.Mobile
import org.junit.Assert.assertEquals
import org.junit.Assert.assertNotEquals
import org.junit.Test
import org.junit.runner.JUnitCore
import org.junit.runner.RunWith
import org.robolectric.annotation.Config

/** The process is killed in the middle of a case: truly, since it is another one. */
@RunWith(Runner::class)
@Config(sdk = [34], shadows = [Glass::class, Disk::class])
class DeathTest {
    private val taps = recording()
    private val begun = taps.indexOfFirst { it.path.endsWith("/table/agent") } + 4

    @Test
    fun theOpenCaseComesBackOnTheTableWhenTheProcessWasKilled() {
        val java = File(System.getProperty("java.home"), "bin/java").path
        val own = listOf("java.library.path", "robolectric.offline", "robolectric.dependency.dir", "chinlift.recordings")
        val command =
            listOf(java, "--add-opens=java.base/java.io=ALL-UNNAMED", "-Dchinlift.taps=$begun") + own.map { "-D$it=${System.getProperty(it)}" } +
                listOf("-cp", System.getProperty("java.class.path"), JUnitCore::class.java.name, BeforeDeath::class.java.name)
        val other = ProcessBuilder(command).redirectErrorStream(true).start()
        val said = mutableListOf<String>()
        val folders =
            try {
                other.inputStream.bufferedReader().lineSequence().onEach { said += it }.firstOrNull { MARK in it }
            } finally {
                other.destroyForcibly().waitFor()
            }
        checkNotNull(folders) { said.joinToString("\n") }
        assertNotEquals(0, other.exitValue())

        val bench = Bench()
        val (data, kept) = folders.substringAfter(MARK).split("|")
        File(data).copyRecursively(bench.app.filesDir, overwrite = true)
        File(kept).copyRecursively(bench.app.noBackupFilesDir, overwrite = true)
        bench.start()
        val table = "/case/${taps[0].leads.split("/")[1]}/table"
        assertEquals(Mobile.Origin + table, bench.glass.lastLoadedUrl)
        bench.play(bench.loaded(), taps.drop(begun))
        bench.controller.pause().stop().destroy()
        bench.settle()
    }

    companion object {
        const val MARK = "acknowledged in "
    }
}

/** BeforeDeath is that other process. Its name keeps it out of the tests. */
@RunWith(Runner::class)
@Config(sdk = [34], shadows = [Glass::class, Disk::class])
class BeforeDeath {
    @Test
    fun waitsForItsDeath() {
        val bench = Bench().start()
        bench.play(bench.loaded(), recording().take(Integer.getInteger("chinlift.taps")))
        println(DeathTest.MARK + bench.app.filesDir + "|" + bench.app.noBackupFilesDir)
        CountDownLatch(1).await()
    }
}

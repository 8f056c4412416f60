package steerwright

import java.io.RandomAccessFile

/** The byte that the database library locks for a writer, in the shared-memory file next to the book. */
private const val WRITERS = 120L

/** A separate process that holds the write lock of a book until its input ends. */
object HoldsTheBook {
    @JvmStatic
    fun main(args: Array<String>) {
        RandomAccessFile(args.single() + "-shm", "rw").use { file ->
            val lock = checkNotNull(file.channel.tryLock(WRITERS, 1, false)) { "somebody else holds the book" }
            println("held")
            var ended = false
            while (!ended) ended = System.`in`.read() < 0
            lock.release()
        }
    }

    /** Starts the process and waits until it holds the lock. */
    fun start(path: String): Process {
        val java = System.getProperty("java.home") + "/bin/java"
        val classes = System.getProperty("java.class.path")
        val command = listOf(java, "-cp", classes, HoldsTheBook::class.java.name, path)
        val process = ProcessBuilder(command).redirectError(ProcessBuilder.Redirect.INHERIT).start()
        check(process.inputReader().readLine() == "held") { "the other program did not come to hold the book" }
        return process
    }
}

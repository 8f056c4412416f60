package steerwright

import java.io.RandomAccessFile

/** Where SQLite keeps a book's writers from one another: a lock on this byte of the file beside it that readers share. */
private const val WRITERS = 120L

/** Another program that is in the middle of writing to a book, until its input ends. */
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

    /** Starts one and waits until it holds the book. */
    fun start(path: String): Process {
        val java = System.getProperty("java.home") + "/bin/java"
        val classes = System.getProperty("java.class.path")
        val command = listOf(java, "-cp", classes, HoldsTheBook::class.java.name, path)
        val process = ProcessBuilder(command).redirectError(ProcessBuilder.Redirect.INHERIT).start()
        check(process.inputReader().readLine() == "held") { "the other program did not come to hold the book" }
        return process
    }
}

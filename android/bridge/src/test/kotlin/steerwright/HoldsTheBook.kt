package steerwright

/**
 * Another program that is in the middle of writing to a book: its clock, which is asked while the change is made, does not
 * answer until its input ends.
 */
object HoldsTheBook {
    private class Waits : TimeSource {
        @Volatile
        var waits = false

        override fun nowMs(): Long {
            if (waits) {
                println("held")
                while (System.`in`.read() >= 0) Unit
                waits = false
            }
            return START
        }
    }

    @JvmStatic
    fun main(args: Array<String>) {
        val time = Waits()
        Book.open(args.single(), time).use { book ->
            time.waits = true
            book.addBike("Written by another program")
        }
    }

    /** Starts one and waits until it holds the book. */
    fun start(path: String): Process {
        val passed = listOf("jna.library.path", "uniffi.component.steerwright.libraryOverride", "steerwright.root")
            .mapNotNull { name -> System.getProperty(name)?.let { "-D$name=$it" } }
        val java = System.getProperty("java.home") + "/bin/java"
        val classes = System.getProperty("java.class.path")
        val command = listOf(java) + passed + listOf("-cp", classes, HoldsTheBook::class.java.name, path)
        val process = ProcessBuilder(command).redirectError(ProcessBuilder.Redirect.INHERIT).start()
        check(process.inputReader().readLine() == "held") { "the other program did not come to hold the book" }
        return process
    }
}

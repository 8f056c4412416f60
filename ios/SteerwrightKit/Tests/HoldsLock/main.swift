// Keeps the writer's lock of a book until its input ends: the lock that the database's library takes on the index of its
// write-ahead log, byte 120. A program of its own, for locks of this kind do not hold within one process.
#if canImport(Glibc)
import Glibc
#else
import Darwin
#endif

let file = open(CommandLine.arguments[1] + "-shm", O_RDWR)
var lock = flock()
lock.l_type = Int16(F_WRLCK)
lock.l_whence = Int16(SEEK_SET)
lock.l_start = 120
lock.l_len = 1
guard file >= 0, fcntl(file, F_SETLK, &lock) == 0 else {
    perror("the lock")
    exit(1)
}
print("held")
fflush(nil)
while readLine() != nil {}

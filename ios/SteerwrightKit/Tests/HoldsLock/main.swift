// Holds the write lock of a book until standard input ends: the lock on byte 120 of the index of the
// database's write-ahead log. A separate process, because locks of this kind do not work within one process.
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

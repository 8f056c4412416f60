//! Hands SQLite's write-ahead log to the system in one piece.
//!
//! SQLite writes every page of a commit to the log with two calls, one for the frame's header and one for the page. A
//! small commit of seven pages is fourteen calls and one sync, and where a call costs more than a microsecond or two
//! they take as long as the disk. The file layer registered here (a "VFS", <https://www.sqlite.org/vfs.html>) lies over
//! the platform's own, changes nothing about any other file, and gathers what is appended to a log until it is synced
//! or anything else is asked of it; then it is one call. Which bytes are in the log, and which of them are on the disk
//! when a commit returns, stays as it is.
//!
//! It holds for connections with `synchronous=FULL` alone, and only those may be opened with it: there SQLite syncs the
//! log before anybody is told of a commit (<https://www.sqlite.org/wal.html>, "Performance Considerations"), so what is
//! still gathered is no part of any. With less, another connection would look for pages that are not in the file yet.
//!
//! This crate is apart because it is the one place of the project with `unsafe` code of its own: SQLite calls a file
//! layer through C's pointers.

use rusqlite::ffi::{
    self, SQLITE_IOERR_NOMEM, SQLITE_OK, SQLITE_OPEN_WAL, sqlite3_file, sqlite3_int64, sqlite3_io_methods,
    sqlite3_vfs,
};
use std::ffi::{CStr, c_char, c_int, c_void};
use std::sync::OnceLock;
use std::{ptr, slice};

/// The name the layer has in SQLite; to be given when a connection is opened.
const NAME: &CStr = c"steerwright-gather";

/// No more than this is gathered at a time: a long transaction goes to the file in pieces of it. SQLite's layer for Unix
/// takes less than 128 KiB in one call, for itself it writes no more than a page.
const MOST_BYTES: usize = 64 << 10;

/// The layer could not be registered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RegisterError {
    /// SQLite has no file layer for this platform to lie over.
    #[error("SQLite knows no way to files on this platform")]
    NoFiles,
    /// SQLite refused it.
    #[error("SQLite did not take the layer over its files (result code {code})")]
    Refused {
        /// SQLite's result code.
        code: i32,
    },
}

/// Makes the layer known to SQLite, the first time it is called, and gives its name for opening a connection, whose
/// `synchronous` must stay FULL.
///
/// # Errors
/// As [`RegisterError`] says; the same at every call.
pub fn register() -> Result<&'static CStr, RegisterError> {
    static DONE: OnceLock<Result<(), RegisterError>> = OnceLock::new();
    (*DONE.get_or_init(registered)).map(|()| NAME)
}

fn registered() -> Result<(), RegisterError> {
    // SAFETY: takes a name or none, and gives a layer that stays as long as the process, or null. It starts SQLite if
    // nobody has.
    let under = unsafe { ffi::sqlite3_vfs_find(ptr::null()) };
    if under.is_null() {
        return Err(RegisterError::NoFiles);
    }
    // SAFETY: not null; nobody changes a registered layer but for `pNext`, which SQLite sets while it registers.
    let mut vfs = unsafe { *under };
    // All but opening is the platform's: none of it looks at the layer it is called through.
    vfs.szOsFile += size_of::<Log>() as c_int;
    vfs.zName = NAME.as_ptr();
    vfs.pNext = ptr::null_mut();
    vfs.xOpen = Some(open);
    let layer = Box::leak(Box::new(Layer { vfs, under }));
    // SAFETY: it stays for ever, and SQLite alone has it from here on.
    match unsafe { ffi::sqlite3_vfs_register(&raw mut layer.vfs, 0) } {
        SQLITE_OK => Ok(()),
        code => Err(RegisterError::Refused { code }),
    }
}

/// The layer as SQLite has it, and the one it lies over.
#[repr(C)]
struct Layer {
    vfs: sqlite3_vfs,
    under: *mut sqlite3_vfs,
}

/// A log that is open. SQLite gives the room for it, and behind it that of the platform's own file.
#[repr(C)]
struct Log {
    file: sqlite3_file,
    gathered: Gathered,
}

/// What was appended and not written yet.
#[derive(Default)]
struct Gathered {
    /// Where in the file the first of the bytes belongs.
    at: i64,
    bytes: Vec<u8>,
}

impl Gathered {
    /// Whether bytes for that place only have to be put behind these.
    fn takes(&self, bytes: &[u8], at: i64) -> bool {
        let length = self.bytes.len();
        self.bytes.is_empty()
            || (length + bytes.len() <= MOST_BYTES && self.at.checked_add(length as i64) == Some(at))
    }

    /// Puts them there; false if there is no memory for them.
    fn push(&mut self, bytes: &[u8], at: i64) -> bool {
        if self.bytes.try_reserve(bytes.len()).is_err() {
            return false;
        }
        if self.bytes.is_empty() {
            self.at = at;
        }
        self.bytes.extend_from_slice(bytes);
        true
    }
}

static METHODS: sqlite3_io_methods = sqlite3_io_methods {
    // Locks between processes and shared memory belong to the book's own file and are never asked of a log.
    iVersion: 1,
    xClose: Some(close),
    xRead: Some(read),
    xWrite: Some(write),
    xTruncate: Some(truncate),
    xSync: Some(sync),
    xFileSize: Some(file_size),
    xLock: Some(lock),
    xUnlock: Some(unlock),
    xCheckReservedLock: Some(check_reserved_lock),
    xFileControl: Some(file_control),
    xSectorSize: Some(sector_size),
    xDeviceCharacteristics: Some(device_characteristics),
    xShmMap: None,
    xShmLock: None,
    xShmBarrier: None,
    xShmUnmap: None,
    xFetch: None,
    xUnfetch: None,
};

/// Calls a method of the platform's file; every version of the interface has those used here.
macro_rules! under {
    ($file:expr, $method:ident $(, $argument:expr)*) => {{
        let under = under($file);
        match (*(*under).pMethods).$method {
            Some(method) => method(under $(, $argument)*),
            None => ffi::SQLITE_IOERR,
        }
    }};
}

/// The platform's file of a log.
///
/// # Safety
/// `file` is one that [`open`] made a [`Log`] of.
unsafe fn under(file: *mut sqlite3_file) -> *mut sqlite3_file {
    // SAFETY: `szOsFile` is the room for both; a `Log`'s size is a multiple of its alignment, which is a pointer's, as
    // a platform's file needs.
    unsafe { file.cast::<Log>().add(1).cast() }
}

/// Writes what was gathered. Whatever comes of it, nothing is kept: what could not be written fails the transaction,
/// as it would have at the write itself.
///
/// # Safety
/// `file` is one that [`open`] made a [`Log`] of, and nobody else uses it meanwhile.
unsafe fn put(file: *mut sqlite3_file) -> c_int {
    // SAFETY: as the caller promises; the platform's file does not reach back into this one.
    unsafe {
        let gathered = &mut (*file.cast::<Log>()).gathered;
        if gathered.bytes.is_empty() {
            return SQLITE_OK;
        }
        let code =
            under!(file, xWrite, gathered.bytes.as_ptr().cast(), gathered.bytes.len() as c_int, gathered.at);
        gathered.bytes.clear();
        code
    }
}

// What follows SQLite calls: one call at a time for a connection's file, with a file that `open` made and pointers that
// are good for the lengths beside them.

unsafe extern "C" fn open(
    vfs: *mut sqlite3_vfs,
    name: *const c_char,
    file: *mut sqlite3_file,
    flags: c_int,
    out_flags: *mut c_int,
) -> c_int {
    // SAFETY: `vfs` is the first field of the `Layer` that was registered; `file` has room for `szOsFile` bytes.
    unsafe {
        let layer = (*vfs.cast::<Layer>()).under;
        let Some(open) = (*layer).xOpen else { return ffi::SQLITE_CANTOPEN };
        if flags & SQLITE_OPEN_WAL == 0 {
            return open(layer, name, file, flags, out_flags);
        }
        (*file).pMethods = ptr::null();
        let under = under(file);
        (*under).pMethods = ptr::null();
        let code = open(layer, name, under, flags, out_flags);
        if code == SQLITE_OK {
            let log =
                Log { file: sqlite3_file { pMethods: &raw const METHODS }, gathered: Gathered::default() };
            ptr::write(file.cast(), log);
        } else if let Some(methods) = (*under).pMethods.as_ref()
            && let Some(close) = methods.xClose
        {
            // SQLite closes what has methods, even where opening failed; this one it does not see.
            close(under);
        }
        code
    }
}

unsafe extern "C" fn close(file: *mut sqlite3_file) -> c_int {
    // SAFETY: as for all of them; after it SQLite does not use the file again.
    unsafe {
        let put = put(file);
        let closed = under!(file, xClose);
        ptr::drop_in_place(&raw mut (*file.cast::<Log>()).gathered);
        (*file).pMethods = ptr::null();
        if put == SQLITE_OK { closed } else { put }
    }
}

unsafe extern "C" fn write(
    file: *mut sqlite3_file,
    bytes: *const c_void,
    amount: c_int,
    at: sqlite3_int64,
) -> c_int {
    // SAFETY: as for all of them.
    unsafe {
        let given = slice::from_raw_parts(bytes.cast::<u8>(), usize::try_from(amount).unwrap_or(0));
        if !(*file.cast::<Log>()).gathered.takes(given, at) {
            let code = put(file);
            if code != SQLITE_OK {
                return code;
            }
        }
        if (*file.cast::<Log>()).gathered.push(given, at) { SQLITE_OK } else { SQLITE_IOERR_NOMEM }
    }
}

/// Everything but a write first has the file be what it was told to be.
macro_rules! written_first {
    ($($name:ident $method:ident ($($argument:ident: $type:ty),*);)*) => {$(
        unsafe extern "C" fn $name(file: *mut sqlite3_file $(, $argument: $type)*) -> c_int {
            // SAFETY: as for all of them.
            unsafe {
                match put(file) {
                    SQLITE_OK => under!(file, $method $(, $argument)*),
                    code => code,
                }
            }
        }
    )*};
}

written_first! {
    read xRead(bytes: *mut c_void, amount: c_int, at: sqlite3_int64);
    truncate xTruncate(size: sqlite3_int64);
    sync xSync(flags: c_int);
    file_size xFileSize(size: *mut sqlite3_int64);
    lock xLock(level: c_int);
    unlock xUnlock(level: c_int);
    check_reserved_lock xCheckReservedLock(is: *mut c_int);
    file_control xFileControl(what: c_int, about: *mut c_void);
}

// These give no result code.

unsafe extern "C" fn sector_size(file: *mut sqlite3_file) -> c_int {
    // SAFETY: as for all of them.
    unsafe { under!(file, xSectorSize) }
}

unsafe extern "C" fn device_characteristics(file: *mut sqlite3_file) -> c_int {
    // SAFETY: as for all of them.
    unsafe { under!(file, xDeviceCharacteristics) }
}

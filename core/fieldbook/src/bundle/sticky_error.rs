//! A writer that keeps its first error until the end.

use std::io::{Error, ErrorKind, Result, Seek, SeekFrom, Write};

/// Writes through until an error occurs, and afterwards only counts bytes: the ZIP writer still computes positions
/// after an error and relies on them. The caller checks [`StickyErrorWriter::failure`] at the end.
pub(super) struct StickyErrorWriter<W> {
    inner: W,
    at: u64,
    end: u64,
    failure: Option<Error>,
}

impl<W: Write + Seek> StickyErrorWriter<W> {
    /// At the start of an empty file.
    pub(super) fn new(inner: W) -> Self {
        Self { inner, at: 0, end: 0, failure: None }
    }

    /// The first error, if there was one.
    pub(super) fn failure(&mut self) -> Option<Error> {
        self.failure.take()
    }

    fn attempt(&mut self, work: impl FnOnce(&mut W) -> Result<()>) {
        if self.failure.is_none() {
            self.failure = work(&mut self.inner).err();
        }
    }
}

impl<W: Write + Seek> Write for StickyErrorWriter<W> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.attempt(|inner| inner.write_all(bytes));
        self.at = self.at.saturating_add(bytes.len() as u64);
        self.end = self.end.max(self.at);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        self.attempt(W::flush);
        Ok(())
    }
}

impl<W: Write + Seek> Seek for StickyErrorWriter<W> {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        let target = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
            SeekFrom::End(by) => self.end.checked_add_signed(by),
        };
        let target = target.ok_or_else(|| Error::from(ErrorKind::InvalidInput))?;
        // A seek by 0 only queries the position.
        if target != self.at {
            self.attempt(|inner| inner.seek(SeekFrom::Start(target)).map(drop));
            self.at = target;
        }
        Ok(target)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// Accepts a limited number of bytes.
    struct Small(Cursor<Vec<u8>>, usize);

    impl Write for Small {
        fn write(&mut self, bytes: &[u8]) -> Result<usize> {
            if self.0.get_ref().len() + bytes.len() > self.1 {
                return Err(ErrorKind::StorageFull.into());
            }
            self.0.write(bytes)
        }

        fn flush(&mut self) -> Result<()> {
            Ok(())
        }
    }

    impl Seek for Small {
        fn seek(&mut self, to: SeekFrom) -> Result<u64> {
            self.0.seek(to)
        }
    }

    #[test]
    fn positions_go_on_after_the_first_failure() {
        let mut writer = StickyErrorWriter::new(Small(Cursor::new(Vec::new()), 6));
        writer.write_all(b"abcd").unwrap();
        assert_eq!(writer.seek(SeekFrom::Start(1)).unwrap(), 1);
        writer.write_all(b"X").unwrap();
        assert_eq!(writer.seek(SeekFrom::End(0)).unwrap(), 4);
        assert!(writer.failure().is_none());
        assert_eq!(writer.inner.0.get_ref(), b"aXcd");
        writer.write_all(b"efg").unwrap();
        assert_eq!(writer.stream_position().unwrap(), 7);
        writer.flush().unwrap();
        assert_eq!(writer.failure().unwrap().kind(), ErrorKind::StorageFull);
        assert_eq!(writer.inner.0.get_ref(), b"aXcd");
    }
}

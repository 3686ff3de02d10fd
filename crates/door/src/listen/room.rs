//! Room for messages that wait for the book, in bytes, shared by all connections.

use std::sync::{Arc, Condvar, Mutex, PoisonError};

/// So many bytes may wait; who wants more waits until others are done.
pub(super) struct Room {
    free: Mutex<usize>,
    freed: Condvar,
    all: usize,
}

/// Room that was taken; it is free again when this is dropped.
pub(super) struct Taken {
    room: Arc<Room>,
    bytes: usize,
}

impl Room {
    pub(super) fn new(bytes: usize) -> Arc<Room> {
        Arc::new(Room { free: Mutex::new(bytes), freed: Condvar::new(), all: bytes })
    }

    /// Takes room for so many bytes, waiting until there is enough. More than there ever is counts as all there is.
    pub(super) fn take(self: &Arc<Self>, bytes: usize) -> Taken {
        let bytes = bytes.min(self.all);
        let free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        let mut free =
            self.freed.wait_while(free, |free| *free < bytes).unwrap_or_else(PoisonError::into_inner);
        *free -= bytes;
        Taken { room: Arc::clone(self), bytes }
    }
}

impl Drop for Taken {
    fn drop(&mut self) {
        *self.room.free.lock().unwrap_or_else(PoisonError::into_inner) += self.bytes;
        self.room.freed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;
    use std::time::Duration;

    use super::*;

    #[test]
    fn who_wants_more_than_is_free_waits_until_it_is() {
        let room = Room::new(10);
        let first = room.take(8);
        let (sender, taken) = channel();
        let other = Arc::clone(&room);
        let waits = std::thread::spawn(move || {
            let more_than_all = other.take(50);
            sender.send(more_than_all.bytes).unwrap();
        });
        assert!(taken.recv_timeout(Duration::from_millis(50)).is_err(), "there is no room yet");
        drop(first);
        assert_eq!(taken.recv_timeout(Duration::from_secs(10)).unwrap(), 10);
        waits.join().unwrap();
        assert_eq!(*room.free.lock().unwrap(), 10);
    }
}

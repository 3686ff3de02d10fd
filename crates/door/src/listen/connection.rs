//! One sender: its bytes into messages, the fates of its messages into answers, in the order in which they came.

use std::io::{BufWriter, ErrorKind, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

use exchange::laboratory::acknowledge::{ErrorCode, Problem, acknowledge, split_messages};
use exchange::laboratory::mllp::{Frame, Frames, frame};

use super::{Job, News, Shared};
use crate::messages::{Arrival, Fate};

/// Most answers a sender may leave untaken before no more of its messages are read.
const MOST_UNANSWERED: usize = 1_024;
/// Most bytes outside frames before the sender is taken for something else than a sender of messages.
const MOST_OUTSIDE: usize = 4_096;
/// How often a waiting connection looks whether it is to stop.
const LOOK: Duration = Duration::from_millis(100);
/// An answer mirrors the header, which lies within the first bytes.
const HEADER_BYTES: usize = 4_096;

pub(super) struct Connection {
    stream: TcpStream,
    from: SocketAddr,
    shared: Arc<Shared>,
    jobs: SyncSender<Job>,
}

/// A message whose fate is awaited.
struct Awaited {
    /// The beginning of the message, from which the answer takes its header.
    start: Vec<u8>,
    fate: Receiver<Fate>,
}

impl Connection {
    pub(super) fn new(
        stream: TcpStream,
        from: SocketAddr,
        shared: Arc<Shared>,
        jobs: SyncSender<Job>,
    ) -> Result<Connection, String> {
        let set = |done: std::io::Result<()>| done.map_err(|error| error.to_string());
        set(stream.set_nonblocking(false))?;
        set(stream.set_nodelay(true))?;
        set(stream.set_read_timeout(Some(LOOK)))?;
        set(stream.set_write_timeout(Some(shared.limits.one_message)))?;
        Ok(Connection { stream, from, shared, jobs })
    }

    /// Reads until the sender closes, a limit is passed, or the listener is to stop; says why where it was not the
    /// sender's wish.
    pub(super) fn run(self) -> Result<(), String> {
        let (awaited, answers) = sync_channel::<Awaited>(MOST_UNANSWERED);
        let stream = self.stream.try_clone().map_err(|error| error.to_string())?;
        let (shared, from) = (Arc::clone(&self.shared), self.from);
        let answering = thread::Builder::new()
            .name(format!("answers to {from}"))
            .spawn(move || answer(&stream, from, &shared, &answers))
            .map_err(|error| error.to_string())?;
        let read = self.read(&awaited);
        drop(awaited);
        let answered = answering.join().unwrap_or_else(|_| Err("a fault of this program".to_owned()));
        read.and(answered)
    }

    fn read(&self, awaited: &SyncSender<Awaited>) -> Result<(), String> {
        let limits = &self.shared.limits;
        let mut frames = Frames::new(limits.longest_message);
        let mut buffer = vec![0; 64 << 10];
        let mut stream = &self.stream;
        let mut last_message = Instant::now();
        let mut begun: Option<Instant> = None;
        let mut n_outside = 0;
        loop {
            if self.shared.stop.load(Ordering::Relaxed) {
                // What has not come whole was not answered and will be sent again.
                return Ok(());
            }
            match stream.read(&mut buffer) {
                Ok(0) => {
                    frames.close();
                    self.hand_over(&mut frames, awaited)?;
                    return Ok(());
                }
                Ok(n_bytes) => {
                    frames.push(&buffer[..n_bytes]);
                    let n_messages = self.hand_over(&mut frames, awaited)?;
                    if n_messages > 0 {
                        last_message = Instant::now();
                        begun = None;
                    }
                    if frames.is_inside() {
                        begun = begun.or_else(|| Some(Instant::now()));
                    }
                    n_outside = if n_messages > 0 || frames.is_inside() { 0 } else { n_outside + n_bytes };
                    if n_outside > MOST_OUTSIDE {
                        return Err(format!(
                            "{n_outside} bytes outside any frame; expected a vertical tab before each message (MLLP)"
                        ));
                    }
                }
                Err(error) if is_a_pause(&error) => {}
                Err(error) => return Err(error.to_string()),
            }
            let too_long = |since: Instant, limit: Duration| since.elapsed() > limit;
            if begun.is_some_and(|since| too_long(since, limits.one_message)) {
                frames.close();
                self.hand_over(&mut frames, awaited)?;
                return Err(format!("a message that did not end within {} s", limits.one_message.as_secs()));
            }
            if begun.is_none() && too_long(last_message, limits.idle) {
                return Err(format!("no message for {} s", limits.idle.as_secs()));
            }
        }
    }

    /// Hands whole frames to the book; gives how many messages there were.
    fn hand_over(&self, frames: &mut Frames, awaited: &SyncSender<Awaited>) -> Result<u64, String> {
        let mut n_messages = 0;
        while let Some(frame) = frames.next_frame() {
            match frame {
                Frame::Message(bytes) => {
                    n_messages += 1;
                    let messages = split_messages(&bytes);
                    match messages.as_slice() {
                        [_] | [] => self.send(bytes, None, awaited)?,
                        several => {
                            several.iter().try_for_each(|one| self.send(one.to_vec(), None, awaited))?;
                        }
                    }
                }
                Frame::Unfinished(bytes) => {
                    n_messages += 1;
                    let text = "found a message that began and did not end; expected the bytes FS and CR after it; look for a connection that is cut off";
                    self.send(bytes, Some(Problem::new(ErrorCode::SegmentSequence, text)), awaited)?;
                }
                Frame::TooLong { start, limit } => {
                    n_messages += 1;
                    let text = format!(
                        "found a message of more than {limit} bytes, of which the beginning was kept; expected a shorter one; send no images or documents in results, or raise the limit"
                    );
                    self.send(start, Some(Problem::new(ErrorCode::Internal, text)), awaited)?;
                }
                // Counted where the bytes come in.
                Frame::Stray { .. } => {}
            }
        }
        Ok(n_messages)
    }

    fn send(
        &self,
        bytes: Vec<u8>,
        fault: Option<Problem>,
        awaited: &SyncSender<Awaited>,
    ) -> Result<(), String> {
        let gone = |_| "the book is closed".to_owned();
        let start = bytes[..bytes.len().min(HEADER_BYTES)].to_vec();
        let room = self.shared.room.take(bytes.len());
        let (fate, told) = sync_channel(1);
        let source = self.from.ip().to_string();
        let job = Job { arrival: Arrival { bytes, source, fault }, fate, _room: room };
        self.jobs.send(job).map_err(|_| gone(()))?;
        awaited
            .send(Awaited { start, fate: told })
            .map_err(|_| "the sender does not take the answers".to_owned())
    }
}

fn is_a_pause(error: &std::io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted)
}

/// Writes the answers in the order of the messages, each once its fate is known; those that are ready go out together.
fn answer(
    stream: &TcpStream,
    from: SocketAddr,
    shared: &Shared,
    answers: &Receiver<Awaited>,
) -> Result<(), String> {
    let mut out = BufWriter::with_capacity(64 << 10, stream);
    let mut next = answers.recv().ok();
    while let Some(awaited) = next {
        let fate = match awaited.fate.try_recv() {
            Ok(fate) => fate,
            Err(_) => {
                out.flush().map_err(|error| error.to_string())?;
                awaited.fate.recv().map_err(|_| "the book is closed".to_owned())?
            }
        };
        let number = shared.answers.fetch_add(1, Ordering::Relaxed);
        let now = (shared.clock)();
        let control_id = format!("W{}-{number}", now.at.as_second());
        for bytes in acknowledge(&awaited.start, &fate.reply(), shared.limits.manner, &control_id, now.local)
        {
            out.write_all(&frame(&bytes)).map_err(|error| error.to_string())?;
        }
        if matches!(fate, Fate::KeptAside(_) | Fate::NotOurs(_) | Fate::NotStored(_)) {
            (shared.tell)(News::Message { from, fate });
        }
        next = match answers.try_recv() {
            Ok(ready) => Some(ready),
            Err(TryRecvError::Disconnected) => None,
            Err(TryRecvError::Empty) => {
                out.flush().map_err(|error| error.to_string())?;
                answers.recv().ok()
            }
        };
    }
    out.flush().map_err(|error| error.to_string())
}

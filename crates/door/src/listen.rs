//! Answers senders on the wire (MLLP): one thread writes the book, each connection has one that reads and one that
//! answers.
//!
//! Whatever has come on any connection while the last commit was going to the disk goes into the next one. Nobody
//! waits for a batch to fill, so a single sender that waits for each answer gets it as fast as the disk allows, and many
//! senders, or one that does not wait, share a commit.

mod connection;
mod room;

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use book::Store;
use exchange::laboratory::acknowledge::Manner;

use crate::intake::{Clock, Door};
use crate::messages::{Arrival, Fate};
use connection::Connection;
use room::Room;

/// How much a sender may ask of the listener.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Longest message in bytes.
    pub longest_message: usize,
    /// Most connections at one time; a further one is closed at once.
    pub most_connections: usize,
    /// Most bytes of messages that wait for the book, over all connections.
    pub most_waiting_bytes: usize,
    /// Most messages in one commit.
    pub most_in_one_commit: usize,
    /// How long a message may take from its first byte to its last, and a sender to take an answer.
    pub one_message: Duration,
    /// How long a connection may stay open without a message.
    pub idle: Duration,
    /// Whether the sender's wishes in MSH-15 and MSH-16 are followed, or every message gets one answer.
    pub manner: Manner,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            longest_message: 4 << 20,
            most_connections: 64,
            most_waiting_bytes: 64 << 20,
            most_in_one_commit: 512,
            one_message: Duration::from_secs(30),
            idle: Duration::from_secs(3_600),
            manner: Manner::AsAsked,
        }
    }
}

/// Something the person who looks after the listener should see. It names no patient.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum News {
    /// A message was kept aside, or refused, or could not be stored.
    Message {
        /// Address of the sender.
        from: SocketAddr,
        /// What became of it.
        fate: Fate,
    },
    /// A connection was closed for this reason.
    Closed {
        /// Address of the sender.
        from: SocketAddr,
        /// Why.
        why: String,
    },
}

/// Tells news.
pub type Tell = dyn Fn(News) + Send + Sync;

/// What came while the listener ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Listened {
    /// Messages taken in.
    pub taken_in: u64,
    /// Messages that had been taken in before.
    pub again: u64,
    /// Messages without a blood culture, or of another type.
    pub others: u64,
    /// Messages kept aside.
    pub kept_aside: u64,
    /// Messages that could not be stored.
    pub not_stored: u64,
    /// Commits.
    pub commits: u64,
}

/// A message on its way from a connection to the book, with the place where its fate is awaited.
struct Job {
    arrival: Arrival,
    fate: SyncSender<Fate>,
    _room: room::Taken,
}

/// What all connections share.
struct Shared {
    limits: Limits,
    clock: Arc<Clock>,
    tell: Arc<Tell>,
    stop: Arc<AtomicBool>,
    room: Arc<Room>,
    answers: AtomicUsize,
}

/// Listens until `stop` is set; then takes no more, finishes what has come, answers it, and gives the door back.
pub fn listen<S: Store + Send + 'static>(
    listener: TcpListener,
    mut door: Door<S>,
    limits: Limits,
    clock: Arc<Clock>,
    tell: Arc<Tell>,
    stop: Arc<AtomicBool>,
) -> std::io::Result<(Door<S>, Listened)> {
    listener.set_nonblocking(true)?;
    let (jobs, waiting) = sync_channel::<Job>(limits.most_in_one_commit.max(1) * 2);
    let shared = Arc::new(Shared {
        limits,
        clock: Arc::clone(&clock),
        tell,
        stop: Arc::clone(&stop),
        room: Room::new(limits.most_waiting_bytes),
        answers: AtomicUsize::new(0),
    });
    let writer = thread::Builder::new().name("book".to_owned()).spawn(move || {
        let listened = write(&mut door, &waiting, limits, &clock);
        (door, listened)
    })?;
    let mut threads = Vec::<thread::JoinHandle<()>>::new();
    while !stop.load(Ordering::Relaxed) {
        let (stream, from) = match listener.accept() {
            Ok(accepted) => accepted,
            Err(_) => {
                // Nobody there, or one who went away again at once.
                thread::sleep(Duration::from_millis(5));
                continue;
            }
        };
        threads.retain(|thread| !thread.is_finished());
        if threads.len() >= limits.most_connections {
            let why = format!("{} connections are open already, which is the most", threads.len());
            (shared.tell)(News::Closed { from, why });
            continue;
        }
        let (its_own, jobs) = (Arc::clone(&shared), jobs.clone());
        let started = thread::Builder::new().name(format!("sender {from}")).spawn(move || {
            let tell = Arc::clone(&its_own.tell);
            if let Err(why) = Connection::new(stream, from, its_own, jobs).and_then(Connection::run) {
                tell(News::Closed { from, why });
            }
        });
        match started {
            Ok(thread) => threads.push(thread),
            Err(error) => (shared.tell)(News::Closed { from, why: error.to_string() }),
        }
    }
    drop(listener);
    drop(jobs);
    for thread in threads {
        // A connection that failed has said so itself.
        let _ = thread.join();
    }
    writer.join().map_err(|_| {
        std::io::Error::other("the thread that writes the book stopped on a fault of this program")
    })
}

/// Commits what has come, as much as waits at one time.
fn write<S: Store>(
    door: &mut Door<S>,
    waiting: &Receiver<Job>,
    limits: Limits,
    clock: &Arc<Clock>,
) -> Listened {
    let mut listened = Listened::default();
    while let Ok(first) = waiting.recv() {
        let mut bytes = first.arrival.bytes.len();
        let mut jobs = vec![first];
        while jobs.len() < limits.most_in_one_commit && bytes < limits.most_waiting_bytes / 4 {
            let Ok(job) = waiting.try_recv() else { break };
            bytes += job.arrival.bytes.len();
            jobs.push(job);
        }
        let mut arrivals = Vec::with_capacity(jobs.len());
        let mut senders = Vec::with_capacity(jobs.len());
        for job in jobs {
            arrivals.push(job.arrival);
            senders.push((job.fate, job._room));
        }
        let now = clock();
        let fates = door.take_in_messages(&arrivals, &now, &**clock);
        listened.commits += 1;
        for (fate, (sender, room)) in fates.into_iter().zip(senders) {
            let count = match fate {
                Fate::TakenIn => &mut listened.taken_in,
                Fate::TakenInBefore => &mut listened.again,
                Fate::NothingForUs | Fate::NotOurs(_) => &mut listened.others,
                Fate::KeptAside(_) => &mut listened.kept_aside,
                Fate::NotStored(_) => &mut listened.not_stored,
            };
            *count += 1;
            drop(room);
            // The sender may have gone away: the message is stored, and sent again it will be known.
            let _ = sender.send(fate);
        }
    }
    listened
}

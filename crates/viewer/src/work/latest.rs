//! A thread that always works on the latest question and forgets those overtaken before it began.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;

/// A thread at work; it ends when this is dropped.
#[derive(Debug)]
pub(crate) struct Latest<Q, A> {
    slot: Arc<Slot<Q>>,
    answers: Mutex<Receiver<Result<A, Broken>>>,
    open: usize,
}

/// The work broke off by a fault of the program; what it said.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct Broken(pub(crate) String);

#[derive(Debug)]
struct Slot<Q> {
    waiting: Mutex<Waiting<Q>>,
    changed: Condvar,
}

#[derive(Debug)]
struct Waiting<Q> {
    /// The latest question, and how many it stands for.
    question: Option<Q>,
    closed: bool,
}

impl<Q> Slot<Q> {
    fn lock(&self) -> MutexGuard<'_, Waiting<Q>> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next question; `None` when there will be none.
    fn next(&self) -> Option<Q> {
        let mut waiting = self.lock();
        loop {
            if waiting.closed {
                return None;
            }
            if let Some(question) = waiting.question.take() {
                return Some(question);
            }
            waiting = self
                .changed
                .wait(waiting)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }
}

impl<Q: Send + 'static, A: Send + 'static> Latest<Q, A> {
    /// A thread that answers with `work`. Where the system gives no thread, nothing is ever answered.
    pub(crate) fn new(name: &str, work: impl FnMut(Q) -> A + Send + 'static) -> Self {
        let slot = Arc::new(Slot {
            waiting: Mutex::new(Waiting {
                question: None,
                closed: false,
            }),
            changed: Condvar::new(),
        });
        let (sender, answers) = channel();
        let asked = Arc::clone(&slot);
        // A thread that cannot be had leaves its questions unanswered; `waiting` says so.
        let _ = thread::Builder::new()
            .name(name.into())
            .spawn(move || answer(&asked, &sender, work));
        Self {
            slot,
            answers: Mutex::new(answers),
            open: 0,
        }
    }

    /// Asks; a question that is still waiting is dropped.
    pub(crate) fn ask(&mut self, question: Q) {
        if self.slot.lock().question.replace(question).is_none() {
            self.open += 1;
        }
        self.slot.changed.notify_one();
    }

    /// The newest answer that has come since the last call.
    pub(crate) fn take(&mut self) -> Option<Result<A, Broken>> {
        let answers = self
            .answers
            .get_mut()
            .unwrap_or_else(PoisonError::into_inner);
        let mut newest = None;
        while let Ok(answer) = answers.try_recv() {
            self.open = self.open.saturating_sub(1);
            newest = Some(answer);
        }
        newest
    }

    /// Whether an answer is still to come.
    pub(crate) fn is_busy(&self) -> bool {
        self.open > 0
    }
}

impl<Q, A> Drop for Latest<Q, A> {
    fn drop(&mut self) {
        self.slot.lock().closed = true;
        self.slot.changed.notify_one();
    }
}

fn answer<Q, A>(slot: &Slot<Q>, answers: &Sender<Result<A, Broken>>, mut work: impl FnMut(Q) -> A) {
    while let Some(question) = slot.next() {
        let answer = catch_unwind(AssertUnwindSafe(|| work(question)));
        let answer = answer.map_err(|fault| Broken(told(fault.as_ref())));
        if answers.send(answer).is_err() {
            return;
        }
    }
}

fn told(fault: &(dyn Any + Send)) -> String {
    let text = fault.downcast_ref::<String>().map(String::as_str);
    let text = text.or_else(|| fault.downcast_ref::<&str>().copied());
    text.unwrap_or("no reason given").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, Instant};

    fn wait<Q: Send + 'static, A: Send + 'static>(latest: &mut Latest<Q, A>) -> Result<A, Broken> {
        let start = Instant::now();
        loop {
            if let Some(answer) = latest.take() {
                return answer;
            }
            assert!(start.elapsed() < Duration::from_secs(20), "no answer");
            thread::sleep(Duration::from_millis(1));
        }
    }

    #[test]
    fn a_question_is_answered() {
        let mut double = Latest::new("double", |n: u32| 2 * n);
        assert!(!double.is_busy());
        double.ask(21);
        assert!(double.is_busy());
        assert_eq!(wait(&mut double), Ok(42));
        assert!(!double.is_busy());
    }

    #[test]
    fn questions_overtaken_while_one_is_worked_on_are_never_begun() {
        let (begun, gate) = (Arc::new(Mutex::new(Vec::new())), Arc::new(Mutex::new(())));
        let closed = gate.lock().unwrap();
        let (seen, door) = (Arc::clone(&begun), Arc::clone(&gate));
        let mut slow = Latest::new("slow", move |n: u32| {
            seen.lock().unwrap().push(n);
            drop(door.lock().unwrap());
            n
        });
        slow.ask(0);
        while begun.lock().unwrap().is_empty() {
            thread::sleep(Duration::from_millis(1));
        }
        for n in 1..=5 {
            slow.ask(n);
        }
        drop(closed);
        while wait(&mut slow) != Ok(5) {}
        assert_eq!(*begun.lock().unwrap(), [0, 5]);
        assert!(!slow.is_busy());
    }

    #[test]
    fn a_fault_in_the_work_is_told_and_the_next_question_is_answered() {
        let mut picky = Latest::new("picky", |n: u32| {
            assert!(n != 13, "thirteen");
            n
        });
        picky.ask(13);
        assert_eq!(wait(&mut picky), Err(Broken("thirteen".into())));
        picky.ask(14);
        assert_eq!(wait(&mut picky), Ok(14));
    }
}

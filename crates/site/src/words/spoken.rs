//! Words of the pages on which a teach-back is heard, in the order in which the pages say them. What a page puts between two
//! texts is a name, a number or a time; the spaces beside it stand in the texts.

// teach_back/live
pub(crate) const SAID_RIGHT_WITHOUT_HELP_ENTER: &str = "said right without help; Enter gives it too";
pub(crate) const SAID_RIGHT_AFTER_A_NEUTRAL: &str =
    "said right after a neutral question: “what next?”, “why?”";
pub(crate) const SAID_ONLY_AFTER_A_QUESTION: &str =
    "said only after a question that holds the answer; counts as not known";
pub(crate) const A_NUMBER_OR_A_CONDITION: &str = "a number or a condition was missing";
pub(crate) const NOT_SAID: &str = "not said";
pub(crate) const SOMETHING_FALSE_WAS_SAID_ON: &str =
    "something false was said; on a safety point it counts as unsafe";
pub(crate) const SOMETHING_FALSE_WAS_SAID_THAT: &str =
    "something false was said that could hurt: the pass stops";
pub(crate) const TEACH_BACK_OF: &str = "Teach-back of ";
pub(crate) const ANOTHER_VERSION_IS_IN_FORCE: &str =
    "Another version is in force now. This teach-back stays with version ";
pub(crate) const LAST_PASS_OF_THIS_VERSION: &str = "Last pass of this version: ";
pub(crate) const NOTHING_WAS_OPEN: &str = "Nothing was open.";
pub(crate) const OPEN_THEN: &str = "Open then: ";
pub(crate) const FOR_THIS_PERSON_AND_THEIR: &str = "For this person and their trainer only.";
pub(crate) const BEFORE_YOU_BEGIN: &str = "Before you begin";
pub(crate) const AT_THE_END: &str = "At the end";
pub(crate) const NOTE_ABOUT_THE_PASS_NEVER: &str = "Note about the pass, never about a patient";
pub(crate) const OF: &str = " of ";
pub(crate) const ITEMS_JUDGED: &str = " items judged";
pub(crate) const STEPS: &str = "Steps";
pub(crate) const FINISH: &str = "Finish";
pub(crate) const SAY_NOTHING_THAT_HOLDS_THE: &str = "Say nothing that holds the answer. Neutral questions: “what next?”, “how many key points in this step?”, “why?”.";
pub(crate) const WHAT_THE_MARKS_MEAN_AND: &str = "What the marks mean, and the keys";
pub(crate) const ENTER: &str = "Enter";
pub(crate) const UNPROMPTED_AND_ON_TO_THE: &str = "unprompted, and on to the next item";
pub(crate) const NEXT_AND_PREVIOUS_ITEM: &str = "next and previous item; ";
pub(crate) const CHANGE_THE_MARK: &str = " change the mark";
pub(crate) const BACKSPACE: &str = "Backspace";
pub(crate) const TAKES_THE_MARK_AWAY_A: &str = "takes the mark away; a second tap on a mark does the same";
pub(crate) const THE_KEYS_WORK_WHILE_AN: &str = "The keys work while an item has the focus. Order and time are kept by themselves: an item has the time of its first mark.";
pub(crate) const HEARD_BY: &str = "Heard by";
pub(crate) const CHOOSE_YOUR_NAME: &str = "choose your name";
pub(crate) const BEGAN_AT_AS_YEAR_MONTH: &str = "Began at, as year-month-day hour:minute";
pub(crate) const SUCH_AS_2026_03_03: &str = "such as 2026-03-03 14:05";
pub(crate) const HEARD_TOGETHER_WITH: &str = "Heard together with";
pub(crate) const NOBODY_THIS_IS_A_PASS: &str = "nobody: this is a pass of its own";
pub(crate) const PASS_BEGUN: &str = ", pass begun ";
pub(crate) const ENTRY: &str = "entry ";
pub(crate) const KEY_POINT: &str = "key point";
pub(crate) const KEY_POINTS: &str = "key points";
pub(crate) const BECAUSE: &str = "because";
pub(crate) const NOT_JUDGED: &str = "not judged";
pub(crate) const ONLY_THESE_ORDERS_BIND_ALL: &str = "Only these orders bind; all others are free. They follow from the times of the marks; your word goes before the clock.";
pub(crate) const BINDING_ORDERS: &str = "Binding orders";
pub(crate) const BEFORE: &str = " — before — ";
pub(crate) const PROPOSED_TURNED_ROUND_LISTEN_THEN: &str = "Proposed: turned round. Listen, then decide.";

// teach_back/confirm
pub(crate) const TRANSCRIPT_OF: &str = "Transcript of ";
pub(crate) const A_DRAFT_PROPOSED_FROM_THE: &str = "A draft, proposed from the words and not from understanding them. You decide each mark; nothing is in the book yet.";
pub(crate) const THIS_DOES_NOT_SEEM_TO: &str = "This does not seem to be this job.";
pub(crate) const LOOK_WHETHER_THE_PERSON_THE: &str =
    ". Look whether the person, the job and the file are right before you decide anything.";
pub(crate) const CHECK: &str = "Check";
pub(crate) const WHO_LISTENED: &str = "Who listened";
pub(crate) const WHAT_WAS_HEARD: &str = "What was heard";
pub(crate) const KEEP_THE_WHOLE_TRANSCRIPT_IN: &str = "Keep the whole transcript in the record book too";
pub(crate) const WITHOUT_IT_THE_BOOK_KEEPS: &str =
    "Without it the book keeps only the words beside each item. A recording may hold a patient’s name, ";
pub(crate) const AND_NOTHING_IN_THE_BOOK: &str = "and nothing in the book can be taken out again.";
pub(crate) const DECIDED: &str = " decided";
pub(crate) const CONFIRM_THE: &str = "Confirm the ";
pub(crate) const SURE_ONES: &str = " sure ones";
pub(crate) const ENTER_GIVES_IT_TOO: &str = "; Enter gives it too";
pub(crate) const WHAT_IS_PROPOSED_AND_ON: &str = "what is proposed, and on to the next item";
pub(crate) const NOT_JUDGED_YOU_COULD_NOT: &str = "not judged: you could not hear it";
pub(crate) const TAKES_THE_DECISION_AWAY_A: &str =
    "takes the decision away; a second tap on a mark does the same";
pub(crate) const THE_KEYS_WORK_WHILE_AN_2: &str =
    "The keys work while an item has the focus. Times are those of the transcript.";
pub(crate) const SURE_WHICH_YOU_MAY_CONFIRM: &str = " sure, which you may confirm together; ";
pub(crate) const TO_DECIDE_ONE_BY_ONE: &str = " to decide one by one: ";
pub(crate) const THE_CONFIDENCE_IS_BELOW: &str = "the confidence is below ";
pub(crate) const OR_SOMETHING_FALSE_SEEMS_TO: &str = ", or something false seems to have been said.";
pub(crate) const THE_WORDS_DO_NOT_SEEM: &str =
    "the words do not seem to be of this job, so none may be confirmed together.";
pub(crate) const CONFIDENCE_IS_THE_CHANCE_THAT: &str = "Confidence is the chance that the proposed mark is the one a trainer gives, fitted on invented teach-backs. ";
pub(crate) const IT_SAYS_NOTHING_ABOUT_THE: &str = "It says nothing about the learner. The count is of all items, not of a sample, so it carries no interval.";
pub(crate) const AT: &str = " at ";
pub(crate) const STEPS_THE_LEARNER_NAMED: &str = "Steps the learner named";
pub(crate) const THE_BREAKDOWN_HAS: &str = "; the breakdown has ";
pub(crate) const NO_NUMBER_WAS_HEARD: &str = "no number was heard";
pub(crate) const NONE_SEEMS_TURNED_ROUND: &str = "none seems turned round";
pub(crate) const SEEMS_TO_HAVE_BEEN_SAID: &str = " seems to have been said before ";
pub(crate) const THIS_JOB: &str = "This job";
pub(crate) const WHAT_COULD_NOT_BE_READ: &str = "What could not be read in the transcript (";
pub(crate) const FOUND: &str = ": found ";
pub(crate) const EXPECTED: &str = "; expected ";
pub(crate) const THE_WHOLE_TRANSCRIPT: &str = "The whole transcript";
pub(crate) const STEP: &str = "Step ";
pub(crate) const FROM: &str = "From ";
pub(crate) const WORDS_A_MINUTE: &str = " words a minute";
pub(crate) const SILENT_FOR: &str = "; silent for ";
pub(crate) const S_AT: &str = " s at ";
pub(crate) const PROPOSED: &str = "proposed";
pub(crate) const LISTEN_HERE: &str = " Listen here";
pub(crate) const DECIDE_THIS_ONE_YOURSELF: &str = " Decide this one yourself";
pub(crate) const CONFIDENCE: &str = ", confidence ";
pub(crate) const JUST_BEFORE: &str = "Just before: “";
pub(crate) const WHAT_CAME_NEAREST: &str = "What came nearest:";
pub(crate) const WORDS_AROUND_IT: &str = "Words around it";
pub(crate) const BELONGS_TO_NO_ITEM: &str = "Belongs to no item";
pub(crate) const TALK_OF_THE_LEARNER_THAT: &str =
    "Talk of the learner that no item of the breakdown explains.";
pub(crate) const NOTHING: &str = "Nothing.";

// teach_back/result
pub(crate) const LOOK_OVER_THEN_SAVE: &str = "Look over, then save";
pub(crate) const NOTHING_IS_IN_THE_BOOK: &str = " Nothing is in the book yet.";
pub(crate) const YOUR_DECISION: &str = "Your decision";
pub(crate) const SAVE_TO_THE_RECORD_BOOK: &str = "Save to the record book";
pub(crate) const CHANGE_SOMETHING: &str = "Change something";
pub(crate) const SENT_TWICE_IT_IS_ONE: &str =
    "Sent twice it is one entry. What is saved is never changed; a mistake is mended by a correction.";
pub(crate) const SAID_ON: &str = "Said on ";
pub(crate) const HEARD_BY_2: &str = ", heard by ";
pub(crate) const VERSION: &str = ", version ";
pub(crate) const IN_THE_RECORD_BOOK: &str = ". In the record book.";
pub(crate) const CORRECTED: &str = "Corrected";
pub(crate) const THE_RECORD_SHOWS_WHAT_STANDS: &str = ". The record shows what stands in its place.";
pub(crate) const RECORD_OF: &str = "Record of ";
pub(crate) const PRACTISE_WHAT_WAS_OPEN_COMES: &str = "Practise: what was open comes first";
pub(crate) const CORRECT_THIS_ENTRY: &str = "Correct this entry";
pub(crate) const THIS_PASS: &str = "This pass";
pub(crate) const WHAT_WAS_SAID_IT_IS: &str = "What was said. It is no observed draw and no result.";
pub(crate) const WHAT_COMES_NEXT: &str = "What comes next";
pub(crate) const THE_PROGRAM_COUNTS_THE_TRAINER: &str = "The program counts; the trainer decides.";
pub(crate) const TO_PRACTISE: &str = "To practise";
pub(crate) const SAFETY_POINTS_FIRST: &str = "Safety points first.";
pub(crate) const NOTHING_IS_OPEN_FROM_THIS: &str = "Nothing is open from this pass.";
pub(crate) const AS_IT_WAS_MARKED: &str = "As it was marked";
pub(crate) const ALL_OTHER_ITEMS_THAT_WERE: &str = "All other items that were judged: unprompted.";
pub(crate) const NOTE: &str = "Note";
pub(crate) const CLEAN_BY_THE_UNITS_RULE: &str = " Clean by the unit’s rule.";
pub(crate) const NOT_CLEAN_BY_THE_UNITS: &str = " Not clean by the unit’s rule:";
pub(crate) const WAS_SAID_BEFORE: &str = " was said before ";
pub(crate) const THE_BREAKDOWN_HAS_NONE: &str = " (the breakdown has none)";
pub(crate) const LASTED: &str = "Lasted";
pub(crate) const FROM_THE_START_TO_THE: &str = ", from the start to the last item said";
pub(crate) const NOT_KEPT: &str = "not kept";
pub(crate) const COUNTS_ARE_OF_ALL_ITEMS: &str =
    "Counts are of all items of the breakdown, not of a sample, so they carry no interval.";

// teach_back/transcript
pub(crate) const SOMETHING_OTHER_THAN_ONE_PERSON: &str = "something other than one person and one breakdown";
pub(crate) const PERSON_BREAKDOWN_EACH_AT_MOST: &str = "?person=...&breakdown=..., each at most once";
pub(crate) const A_TEACH_BACK_FROM_ITS: &str = "A teach-back from its transcript";
pub(crate) const THE_PROGRAM_PROPOSES_A_MARK: &str =
    "The program proposes a mark for each item from the words; you decide.";
pub(crate) const STAFF_IDENTIFIER: &str = "staff identifier";
pub(crate) const JOB_CODE: &str = "job code";
pub(crate) const THE_PROGRAM_PROPOSES_A_MARK_2: &str = "The program proposes a mark for each item from the words. It does not understand what is said: you decide each mark.";
pub(crate) const THE_WORDS: &str = "The words";
pub(crate) const TEXT_ONLY_NO_AUDIO_IS: &str = "Text only: no audio is read or kept.";
pub(crate) const TRANSCRIPT_FILE_WEBVTT_SRT_SBV: &str = "Transcript file: WebVTT, SRT, SBV, lines that start with a time in brackets, or what wardwright teachback --json prints";
pub(crate) const OR_THE_WORDS_PASTED: &str = "Or the words, pasted";
pub(crate) const PROPOSE_MARKS: &str = "Propose marks";
pub(crate) const NOTHING_IS_WRITTEN_YET_PATIENTS: &str = "Nothing is written yet. Patients’ names do not belong in a teach-back; the book keeps only the words beside each item, unless you choose to keep all.";
pub(crate) const NO_FILE_AND_NO_WORDS: &str = "no file and no words";
pub(crate) const CHOOSE_THE_FILE_OR_PASTE: &str = "choose the file, or paste the words";
pub(crate) const A_FILE_AND_PASTED_WORDS: &str = "a file and pasted words";
pub(crate) const EMPTY_ONE_OF_THE_TWO: &str = "empty one of the two";
pub(crate) const A_TRANSCRIPT_ONCE: &str = "a transcript, once";
pub(crate) const A_TEACH_BACK_BECAME_ANOTHER: &str = "a teach-back became another entry";
pub(crate) const DECISIONS: &str = "Decisions";
pub(crate) const A_MARK_OR_NOT_JUDGED: &str =
    "a mark, or “not judged”, for each item and each order that seems turned round";
pub(crate) const LISTEN_WHERE_THE_PAGE_SAYS: &str =
    "listen where the page says so, then decide; the sure ones may be confirmed together";

// teach_back/beside
pub(crate) const ONE_PASS_HEARD_BY: &str = "One pass, heard by ";
pub(crate) const IT_COUNTS_ONCE_WITH_THE: &str = ". It counts once, with the worse mark of each item.";
pub(crate) const HEARD_TOGETHER: &str = "Heard together";
pub(crate) const MARKED_ALIKE: &str = ". Marked alike: ";
pub(crate) const THAT_BOTH_MARKED: &str = " that both marked.";
pub(crate) const AND: &str = " and ";
pub(crate) const COUNTS_AS: &str = "; counts as ";
pub(crate) const EVERY_ITEM_THAT_BOTH_MARKED: &str = "Every item that both marked is counted, not a sample, so there is no interval. How far listeners agree over all passes of the job is on the page of what many miss.";
pub(crate) const PROPOSED_BY: &str = "Proposed by ";
pub(crate) const FROM_A_TRANSCRIPT_THE_MARKS: &str = " from a transcript. The marks above are the trainer’s.";
pub(crate) const WHAT_WAS_PROPOSED: &str = "What was proposed";
pub(crate) const SURE_PROPOSALS_DECIDED_OTHERWISE: &str = "Sure proposals decided otherwise";
pub(crate) const WITH_LISTEN_HERE_DECIDED_OTHERWISE: &str = "With “listen here”, decided otherwise";
pub(crate) const LEFT_UNJUDGED: &str = "Left unjudged";
pub(crate) const EVERY_ITEM_OF_THE_PASS: &str =
    "Every item of the pass is counted, not a sample, so there is no interval.";
pub(crate) const PROPOSED_AS_TURNED_ROUND: &str = "Proposed as turned round:";
pub(crate) const BEFORE_2: &str = " before ";
pub(crate) const NO_PROPOSAL_WAS_DECIDED_OTHERWISE: &str = "No proposal was decided otherwise.";
pub(crate) const DECIDED_OTHERWISE: &str = "Decided otherwise";
pub(crate) const ALL_OTHER_PROPOSALS_WITH_THE: &str = "All other proposals, with the words (";
pub(crate) const THE_TRANSCRIPT_KEPT_WHOLE: &str = "The transcript, kept whole";
pub(crate) const THE_BOOK_KEEPS_THE_WORDS: &str = "The book keeps the words above and not the transcript. ";
pub(crate) const SHA_256_OF_THE_TRANSCRIPT: &str = "SHA-256 of the transcript: ";
pub(crate) const PROPOSED_2: &str = "Proposed: ";
pub(crate) const LISTEN_HERE_2: &str = " listen here";
pub(crate) const DECIDED_2: &str = "; decided: ";
pub(crate) const NUMBER_HEARD: &str = "Number heard: ";
pub(crate) const THE_BREAKDOWN_SAYS: &str = "; the breakdown says ";
pub(crate) const OVER_99: &str = "over 99 %";
pub(crate) const UNDER_1: &str = "under 1 %";
pub(crate) const NONE_WAS_DECIDED: &str = "none was decided";
pub(crate) const ITEM: &str = "item";
pub(crate) const ITEMS: &str = "items";

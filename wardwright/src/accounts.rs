use std::io::{BufRead as _, IsTerminal as _};
use std::path::PathBuf;
use std::process::ExitCode;

use account::{Account, AccountName, PasswordHash, Role, SALT_BYTES, Subject};
use clap::{Args, Subcommand};
use practice::PersonId;

use site::ChangeNote;

use crate::accounts_file::AccountsFile;
use crate::doorkeeper::{Notes, has_a_way_in};
use crate::folder::Folder;
use crate::message::{Message, say};
use crate::provider_file::Passwords;

/// Make, change and end accounts for the pages
///
/// Without accounts the pages answer on this machine only and nobody signs in. The first account must be an
/// administrator's. A password given here is for the first time only: whoever signs in with it chooses another.
#[derive(Debug, Subcommand)]
pub enum AccountsCommand {
    /// Make an account; its first password is read from the terminal or from standard input
    Add(AddArgs),
    /// Give an account a new first password, such as for somebody who has forgotten theirs
    Password(NamedArgs),
    /// Change what an account is signed in as
    Roles(RolesArgs),
    /// Let an account try again that was locked after wrong passwords
    Unlock(NamedArgs),
    /// End an account; entries in the record book stay
    Remove(NamedArgs),
    /// Tie an account to a subject at the sign-in provider: whoever signs in there as that person gets in with it
    Tie(TieArgs),
    /// Untie an account from the sign-in provider
    Untie(NamedArgs),
    /// Look whether the sign-in provider answers and fits its settings
    Provider(ListArgs),
    /// List the accounts
    List(ListArgs),
}

#[derive(Debug, Args)]
pub struct AddArgs {
    /// Name to sign in with
    name: String,
    /// Roles: trainer, preceptor, learner, results-reader, administrator
    #[arg(long = "role", required = true, value_name = "ROLE")]
    roles: Vec<String>,
    /// Staff identifier of the person, as in the record book
    #[arg(long, value_name = "STAFF-ID")]
    person: Option<String>,
    /// Who that is to the sign-in provider; then no first password is asked for
    #[arg(long, value_name = "SUBJECT")]
    subject: Option<String>,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

#[derive(Debug, Args)]
pub struct TieArgs {
    /// Name of the account
    name: String,
    /// Who that is to the sign-in provider (claim “sub”)
    subject: String,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

#[derive(Debug, Args)]
pub struct NamedArgs {
    /// Name of the account
    name: String,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

#[derive(Debug, Args)]
pub struct RolesArgs {
    /// Name of the account
    name: String,
    /// Roles from now on: trainer, preceptor, learner, results-reader, administrator
    #[arg(long = "role", required = true, value_name = "ROLE")]
    roles: Vec<String>,
    /// Staff identifier of another person; without, the person stays
    #[arg(long, value_name = "STAFF-ID")]
    person: Option<String>,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

#[derive(Debug, Args)]
pub struct ListArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
}

pub fn run(command: &AccountsCommand) -> ExitCode {
    let done = match command {
        AccountsCommand::Add(args) => add(args),
        AccountsCommand::Password(args) => password(args),
        AccountsCommand::Roles(args) => roles(args),
        AccountsCommand::Unlock(args) => unlock(args),
        AccountsCommand::Remove(args) => remove(args),
        AccountsCommand::Tie(args) => tie(args),
        AccountsCommand::Untie(args) => untie(args),
        AccountsCommand::Provider(args) => provider(args),
        AccountsCommand::List(args) => list(args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

fn add(args: &AddArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    let roles = read_roles(&args.roles)?;
    let person = args.person.clone().map(PersonId);
    if let Some(person) = &person {
        known(&folder, person)?;
    }
    let subject = args.subject.as_deref().map(|subject| at_provider(&folder, subject)).transpose()?;
    let password = if subject.is_some() { None } else { Some(first_password(&folder, &name)?) };
    let words: Vec<&str> = roles.iter().map(|role| role.word()).collect();
    let what = format!("made, as {}", words.join(", "));
    let account = Account {
        name: name.clone(),
        person,
        roles,
        must_change: password.is_some(),
        password,
        subject,
        epoch: first_epoch(jiff::Timestamp::now()),
        unlocked: None,
    };
    let tied = account.subject.clone();
    file.change(|accounts| {
        accounts.with(account).map_err(|error| match error {
            account::AccountFault::NoPerson(..) => needs_a_person(&error),
            error => file.misfit(&error),
        })
    })?;
    noted(&folder, &name, what);
    match tied {
        Some(subject) => say!("Account {name} made, for the subject {subject}."),
        None => say!("Account {name} made. Whoever signs in with it first chooses a password of their own."),
    }
    Ok(())
}

fn password(args: &NamedArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    if file.read()?.find(&name).is_none() {
        return Err(file.misfit(&account::AccountFault::Unknown(name)));
    }
    let password = first_password(&folder, &name)?;
    file.change(|accounts| {
        accounts
            .with_password(&name, password, true)
            .and_then(|accounts| accounts.unlocked(&name, jiff::Timestamp::now()))
            .map_err(|error| file.misfit(&error))
    })?;
    noted(&folder, &name, "has a new first password");
    say!("Account {name} has a new first password and is signed out everywhere.");
    Ok(())
}

fn roles(args: &RolesArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    let roles = read_roles(&args.roles)?;
    let words: Vec<&str> = roles.iter().map(|role| role.word()).collect();
    let person = args.person.clone().map(PersonId);
    if let Some(person) = &person {
        known(&folder, person)?;
    }
    file.change(|accounts| {
        let person = person.or_else(|| accounts.find(&name).and_then(|account| account.person.clone()));
        accounts.with_roles(&name, roles.clone(), person).map_err(|error| file.misfit(&error))
    })?;
    noted(&folder, &name, format!("is now {}", words.join(", ")));
    say!("Account {name} is now: {}. It is signed out everywhere.", words.join(", "));
    Ok(())
}

fn unlock(args: &NamedArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    file.change(|accounts| {
        accounts.unlocked(&name, jiff::Timestamp::now()).map_err(|error| file.misfit(&error))
    })?;
    noted(&folder, &name, "may try again after wrong passwords");
    say!("Account {name} may try again; its password is as it was.");
    Ok(())
}

fn remove(args: &NamedArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    file.change(|accounts| accounts.without(&name).map_err(|error| file.misfit(&error)))?;
    noted(&folder, &name, "is gone; what its person wrote stays in the record book");
    say!("Account {name} is gone. What its person wrote stays in the record book.");
    Ok(())
}

fn list(args: &ListArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let accounts = AccountsFile::of(folder.path()).read()?;
    if accounts.is_empty() {
        say!("No accounts: the pages answer on this machine only, and nobody signs in.");
    }
    for account in accounts.iter() {
        let roles: Vec<&str> = account.roles.iter().map(|role| role.word()).collect();
        let person = account.person.as_ref().map_or_else(String::new, |person| format!(" · {person}"));
        let first = if account.must_change { " · first password not changed yet" } else { "" };
        let tied =
            account.subject.as_ref().map_or_else(String::new, |subject| format!(" · subject {subject}"));
        say!("{}{person} · {}{first}{tied}", account.name, roles.join(", "));
    }
    Ok(())
}

fn tie(args: &TieArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    let subject = at_provider(&folder, &args.subject)?;
    file.change(|accounts| {
        accounts.with_subject(&name, Some(subject.clone())).map_err(|error| file.misfit(&error))
    })?;
    noted(&folder, &name, format!("is tied to {}", subject.subject));
    say!("Account {name} is tied to the subject {subject}. It is signed out everywhere.");
    Ok(())
}

fn untie(args: &NamedArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    file.change(|accounts| accounts.with_subject(&name, None).map_err(|error| file.misfit(&error)))?;
    noted(&folder, &name, "is tied to nobody at the sign-in provider any more");
    say!("Account {name} is tied to nobody any more. It is signed out everywhere.");
    Ok(())
}

fn provider(args: &ListArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let named = crate::provider_file::read(folder.path())?.ok_or_else(no_provider)?;
    named.provider.look(jiff::Timestamp::now()).map_err(|fault| {
        let (expected, to_do) = fault.expected_and_to_do();
        Message::new(named.name.clone(), fault.to_string(), expected, to_do)
    })?;
    let settings = named.provider.settings();
    say!("{} answers as {}, and its keys can be used.", named.name, settings.issuer());
    say!("Register with it: {}", settings.back());
    if named.sign_out_there {
        say!("And as address after signing out: {}", settings.after_sign_out());
    }
    match named.passwords {
        Passwords::Everybody => say!("Passwords: whoever has one may sign in with it too."),
        Passwords::Administrators => {
            say!("Passwords: for administrators alone.");
            let accounts = AccountsFile::of(folder.path()).read()?;
            if !accounts.is_empty() && !has_a_way_in(&accounts) {
                return Err(Message::new(
                    crate::provider_file::PROVIDER,
                    "passwords = \"administrators\", and no administrator has a password",
                    "an administrator with a password, who gets in while the provider is down",
                    "wardwright accounts password NAME, or passwords = \"everybody\"",
                ));
            }
        }
    }
    say!(
        "Not looked at: whether it knows the client “{}” and its secret; the first sign-in shows.",
        settings.client()
    );
    Ok(())
}

/// A subject at the provider that is set.
fn at_provider(folder: &Folder, subject: &str) -> Result<Subject, Message> {
    let named = crate::provider_file::read(folder.path())?.ok_or_else(no_provider)?;
    Ok(Subject { issuer: named.provider.settings().issuer().to_owned(), subject: subject.to_owned() })
}

/// What is said where a subject is given and no provider is set.
pub fn no_provider() -> Message {
    Message::new(
        crate::provider_file::PROVIDER,
        "no such file in the data folder",
        "the settings of a sign-in provider",
        "docs/accounts.md says what stands in it; nothing was changed",
    )
}

/// The epoch of a new account: later than that of any account that had its name before, whose sessions must not be its.
pub fn first_epoch(now: jiff::Timestamp) -> u64 {
    u64::try_from(now.as_millisecond()).unwrap_or(0)
}

/// Keeps what was done here; a note that cannot be written is told, and the change stands.
fn noted(folder: &Folder, name: &AccountName, what: impl Into<String>) {
    let note = ChangeNote {
        when: folder.now(),
        by: "the command line".to_owned(),
        account: name.to_string(),
        what: what.into(),
    };
    let kept = folder.keep_views_days().map_err(|message| message.to_string());
    if let Err(error) = kept.and_then(|days| Notes::of(folder.path(), days).note_change(&note)) {
        eprintln!("The change is made and could not be noted: {error}");
    }
}

fn named(file: &AccountsFile, text: &str) -> Result<AccountName, Message> {
    AccountName::new(text).map_err(|error| file.misfit(&error))
}

fn read_roles(words: &[String]) -> Result<std::collections::BTreeSet<Role>, Message> {
    words
        .iter()
        .flat_map(|word| word.split(','))
        .map(|word| {
            Role::from_word(word).ok_or_else(|| {
                Message::new(
                    "--role",
                    format!("“{word}”"),
                    Role::ALL.map(Role::word).join(", "),
                    "give one of these words; --role may stand several times; nothing was changed",
                )
            })
        })
        .collect()
}

/// What is said where a role is of a person and none is given.
fn needs_a_person(fault: &account::AccountFault) -> Message {
    let text = fault.to_string();
    let (found, expected) = text.split_once("; expected ").unwrap_or((&text, "the person"));
    Message::new(
        "--role",
        found,
        format!("{expected}, with --person"),
        "give --person STAFF-ID (`wardwright people` lists them). In a new unit make an account with --role administrator alone \
         first, sign in, take in the people on the page “Begin”, and give their accounts on the page of accounts; nothing was changed",
    )
}

/// Refuses a person whom the book does not know.
pub fn known(folder: &Folder, person: &PersonId) -> Result<(), Message> {
    if crate::book::is_known(folder.path(), person)? {
        return Ok(());
    }
    Err(Message::new(
        "--person",
        person.to_string(),
        "the staff identifier of somebody in the record book",
        "`wardwright people` lists them; add the person first with `wardwright book add`",
    ))
}

/// Reads a first password: twice from a terminal without showing it, or one line from standard input.
fn first_password(folder: &Folder, name: &AccountName) -> Result<PasswordHash, Message> {
    let password = if std::io::stdin().is_terminal() {
        let first = hidden_line("First password: ")?;
        if hidden_line("Once more: ")? != first {
            return Err(Message::new(
                "first password",
                "two different texts",
                "the same text twice",
                "start again; nothing was changed",
            ));
        }
        first
    } else {
        line()?
    };
    hash(&password, folder, name)
}

/// Hashes a password that is good enough, with fresh salt.
pub fn hash(password: &str, folder: &Folder, name: &AccountName) -> Result<PasswordHash, Message> {
    let mut salt = [0; SALT_BYTES];
    getrandom::fill(&mut salt).map_err(|error| {
        Message::new(
            "system",
            format!("no random bytes: {error}"),
            "random bytes from the system",
            "try again; nothing was changed",
        )
    })?;
    PasswordHash::of_new(password, &[name.as_str(), &folder.settings().unit], salt).map_err(|fault| {
        Message::new("password", fault.to_string(), fault.expected(), "choose another; nothing was changed")
    })
}

/// Draws a first password, and hashes it: four groups of five signs that cannot be taken for one another, about 99 bits.
pub fn drawn_password(folder: &Folder, name: &AccountName) -> Result<(String, PasswordHash), Message> {
    const SIGNS: &[u8; 31] = b"abcdefghjkmnpqrstuvwxyz23456789";
    let mut signs: Vec<u8> = Vec::new();
    while signs.len() < 20 {
        let mut drawn = [0; 32];
        getrandom::fill(&mut drawn).map_err(|error| {
            Message::new(
                "system",
                format!("no random bytes: {error}"),
                "random bytes from the system",
                "try again; nothing was changed",
            )
        })?;
        // 248 is 8 times 31: what lies above would make some signs likelier than others.
        signs.extend(drawn.iter().filter(|byte| **byte < 248).map(|byte| SIGNS[usize::from(byte % 31)]));
    }
    let groups: Vec<String> =
        signs[..20].chunks(5).map(|group| String::from_utf8_lossy(group).into_owned()).collect();
    let password = groups.join("-");
    let hash = hash(&password, folder, name)?;
    Ok((password, hash))
}

fn line() -> Result<String, Message> {
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).map_err(|error| {
        Message::new(
            "standard input",
            error.to_string(),
            "one line with a password",
            "give it again; nothing was changed",
        )
    })?;
    Ok(line.trim_end_matches(['\r', '\n']).to_owned())
}

#[cfg(unix)]
fn hidden_line(question: &str) -> Result<String, Message> {
    use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};
    let terminal = std::io::stdin();
    let failed = |error: rustix::io::Errno| {
        Message::new(
            "terminal",
            error.to_string(),
            "a terminal that can hide what is typed",
            "give the password on standard input",
        )
    };
    let before = tcgetattr(&terminal).map_err(failed)?;
    let mut hidden = before.clone();
    hidden.local_modes.remove(LocalModes::ECHO);
    eprint!("{question}");
    tcsetattr(&terminal, OptionalActions::Flush, &hidden).map_err(failed)?;
    let read = line();
    tcsetattr(&terminal, OptionalActions::Now, &before).map_err(failed)?;
    eprintln!();
    read
}

#[cfg(not(unix))]
fn hidden_line(question: &str) -> Result<String, Message> {
    eprint!("{question}");
    line()
}

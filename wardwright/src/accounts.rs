use std::io::{BufRead as _, IsTerminal as _};
use std::path::PathBuf;
use std::process::ExitCode;

use account::{Account, AccountName, PasswordHash, Role, SALT_BYTES};
use clap::{Args, Subcommand};
use practice::PersonId;

use crate::accounts_file::AccountsFile;
use crate::folder::Folder;
use crate::message::{Message, say};

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
    let password = first_password(&folder, &name)?;
    let account =
        Account { name: name.clone(), person, roles, password, must_change: true, epoch: 0, unlocked: None };
    file.change(|accounts| accounts.with(account).map_err(|error| file.misfit(&error)))?;
    say!("Account {name} made. Whoever signs in with it first chooses a password of their own.");
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
    say!("Account {name} has a new first password and is signed out everywhere.");
    Ok(())
}

fn roles(args: &RolesArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    let roles = read_roles(&args.roles)?;
    let words: Vec<&str> = roles.iter().map(|role| role.word()).collect();
    file.change(|accounts| accounts.with_roles(&name, roles.clone()).map_err(|error| file.misfit(&error)))?;
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
    say!("Account {name} may try again; its password is as it was.");
    Ok(())
}

fn remove(args: &NamedArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let file = AccountsFile::of(folder.path());
    let name = named(&file, &args.name)?;
    file.change(|accounts| accounts.without(&name).map_err(|error| file.misfit(&error)))?;
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
        say!("{}{person} · {}{first}", account.name, roles.join(", "));
    }
    Ok(())
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

fn known(folder: &Folder, person: &PersonId) -> Result<(), Message> {
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

//! Wardwright: bring every nurse of a unit to safe blood-culture collection, and show from the laboratory's results
//! that it worked. This binary wires the rooms together; it computes nothing itself.

mod accounts;
mod accounts_file;
mod bench_data;
mod book;
mod book_place;
mod breakdown;
mod cultures;
mod demo;
mod desk_of_book;
mod door;
mod doorkeeper;
mod draw;
mod folder;
mod follow_up;
mod handed_in;
mod kept_aside;
mod listen;
mod message;
mod next_draw;
mod papers;
mod plan;
mod progress;
mod provider_file;
mod recording;
mod release_rule;
mod roster_file;
mod serve;
mod setup;
mod take_in;
mod teachback;
mod toml_file;
mod watch;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Bring nurses to safe blood-culture collection and show from the laboratory's results that it worked
///
/// Training support, not a medical device: local policy and the laboratory's instructions come first, and a licensed
/// clinician decides.
#[derive(Debug, Parser)]
#[command(name = "wardwright", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Demo(demo::DemoArgs),
    Setup(setup::SetupArgs),
    #[command(subcommand)]
    Cultures(cultures::CulturesCommand),
    #[command(subcommand)]
    Breakdown(breakdown::BreakdownCommand),
    Teachback(teachback::TeachbackArgs),
    #[command(subcommand)]
    Book(book::BookCommand),
    People(book::PeopleArgs),
    ReleaseRule(release_rule::ReleaseRuleArgs),
    Plan(plan::PlanArgs),
    NextDraw(next_draw::NextDrawArgs),
    FollowUp(follow_up::FollowUpArgs),
    #[command(subcommand)]
    Draw(draw::DrawCommand),
    #[command(subcommand)]
    Accounts(accounts::AccountsCommand),
    Papers(papers::PapersArgs),
    Serve(serve::ServeArgs),
    Listen(listen::ListenArgs),
    Watch(watch::WatchArgs),
    KeptAside(kept_aside::KeptAsideArgs),
    BenchData(bench_data::BenchDataArgs),
}

fn main() -> ExitCode {
    match Arguments::parse().command {
        Command::Demo(args) => demo::run(&args),
        Command::Setup(args) => setup::run(&args),
        Command::Cultures(command) => cultures::run(&command),
        Command::Breakdown(command) => breakdown::run(&command),
        Command::Teachback(args) => teachback::run(&args),
        Command::Book(command) => book::run(&command),
        Command::People(args) => book::people(&args),
        Command::ReleaseRule(args) => release_rule::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::NextDraw(args) => next_draw::run(&args),
        Command::FollowUp(args) => follow_up::run(&args),
        Command::Draw(command) => draw::run(&command),
        Command::Accounts(command) => accounts::run(&command),
        Command::Papers(args) => papers::run(&args),
        Command::Serve(args) => serve::run(&args),
        Command::Listen(args) => listen::run(&args),
        Command::Watch(args) => watch::run(&args),
        Command::KeptAside(args) => kept_aside::run(&args),
        Command::BenchData(args) => bench_data::run(&args),
    }
}

//! Signing in as a hospital sets it up: through a provider, encrypted by the program itself, and what is said when a part is missing.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

#[path = "../../crates/openid/tests/faithful/mod.rs"]
mod faithful;

use std::io::{BufRead as _, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::Arc;

use faithful::{CLIENT, Faithful, SECRET, Twist};
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, ServerName};

const FIRST: &str = "words for the first time only";

fn program(arguments: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_wardwright"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that reads nothing may be gone already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

fn done(arguments: &[&str], input: &str) -> String {
    let output = program(arguments, input);
    let text = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
    assert!(output.status.success(), "{arguments:?}: {text}");
    text
}

fn refused(arguments: &[&str]) -> String {
    let output = program(arguments, "");
    assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    String::from_utf8(output.stderr).unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A unit with an administrator and, where a provider is set, a reader of results tied to a subject.
fn unit(folder: &Path) -> PathBuf {
    let data = folder.join("unit");
    done(&["setup", "--data", text(&data), "--unit", "Invented ward"], "");
    done(
        &["accounts", "add", "admin", "--role", "administrator", "--data", text(&data)],
        &format!("{FIRST}\n"),
    );
    data
}

struct Pages {
    child: Child,
    address: String,
}

impl Drop for Pages {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn pages(data: &Path, more: &[&str]) -> Pages {
    let mut child = Command::new(env!("CARGO_BIN_EXE_wardwright"))
        .args(["serve", "--data", text(data)])
        .args(more)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut told = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    while !line.starts_with("Pages: ") {
        line.clear();
        assert_ne!(told.read_line(&mut line).unwrap(), 0, "the program serves no pages");
    }
    std::thread::spawn(move || told.lines().count());
    let address = line.split("://").nth(1).unwrap().split('/').next().unwrap().to_owned();
    Pages { child, address }
}

struct Answer {
    status: u16,
    head: String,
    body: String,
}

impl Answer {
    fn of(mut stream: impl Read + Write, request: &str) -> Answer {
        stream.write_all(request.as_bytes()).unwrap();
        let mut bytes = Vec::new();
        // Over TLS the other side may close without a goodbye once everything is said.
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).map_or(0, |status| status.parse().unwrap());
        Answer { status, head: head.to_owned(), body: body.to_owned() }
    }

    fn field(&self, wanted: &str) -> &str {
        let field = self.head.lines().filter_map(|line| line.split_once(": "));
        field.into_iter().find(|(name, _)| name.eq_ignore_ascii_case(wanted)).map_or("", |(_, value)| value)
    }

    /// The value of a cookie that this answer gives.
    fn cookie(&self, name: &str) -> Option<String> {
        let given = self.head.lines().filter_map(|line| line.strip_prefix("set-cookie: "));
        let values = given.filter_map(|line| line.split(';').next()?.strip_prefix(name)?.strip_prefix('='));
        values.map(str::to_owned).find(|value| !value.is_empty())
    }
}

fn get(pages: &Pages, path: &str, cookie: &str) -> Answer {
    let host = &pages.address;
    Answer::of(
        TcpStream::connect(host).unwrap(),
        &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"),
    )
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn write_provider(data: &Path, issuer: &str, port: u16, mode: u32) {
    use std::os::unix::fs::PermissionsExt as _;
    let path = data.join("provider.toml");
    let settings = format!(
        "schema = 1\nname = \"Ward sign-in\"\nissuer = \"{issuer}\"\nclient = \"{CLIENT}\"\nsecret = \"{SECRET}\"\naddress = \"http://127.0.0.1:{port}\"\n"
    );
    std::fs::write(&path, settings).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
}

/// There and back: the answer to the browser that comes back from the provider, the address it came back to, and its cookie.
fn through(pages: &Pages, faithful: &Faithful) -> (Answer, String, String) {
    let gone = get(pages, "/sign-in/provider?to=%2Freports", "");
    assert_eq!(gone.status, 303, "{}", gone.body);
    let way = format!("__Host-wardwright-way={}", gone.cookie("__Host-wardwright-way").unwrap());
    let back = faithful.signs_in(gone.field("location"));
    let path = back.strip_prefix(&format!("http://{}", pages.address)).unwrap().to_owned();
    (get(pages, &path, &way), path, way)
}

fn session(answer: &Answer) -> String {
    format!("__Host-wardwright={}", answer.cookie("__Host-wardwright").unwrap())
}

#[test]
fn somebody_signs_in_at_the_provider_and_is_who_the_administrator_said() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let faithful = Faithful::start();
    let port = free_port();
    write_provider(&data, &faithful.issuer, port, 0o644);
    let told = refused(&["serve", "--data", text(&data)]);
    assert!(told.contains("chmod 600") && !told.contains(SECRET), "{told}");
    write_provider(&data, &faithful.issuer, port, 0o600);
    let told = refused(&["serve", "--data", text(&data), "--port", "0", "--behind", "draws.ward.example"]);
    assert!(told.contains("provider.toml: address") && told.contains("--behind"), "{told}");
    let told = done(&["accounts", "provider", "--data", text(&data)], "");
    assert!(told.contains(&format!("http://127.0.0.1:{port}/sign-in/back")), "{told}");
    let reader = [
        "accounts",
        "add",
        "reader",
        "--role",
        "results-reader",
        "--subject",
        "subject-1",
        "--data",
        text(&data),
    ];
    done(&reader, "");
    let listed = done(&["accounts", "list", "--data", text(&data)], "");
    assert!(listed.contains("reader · results reader · subject subject-1"), "{listed}");

    let pages = pages(&data, &["--port", &port.to_string()]);
    let page = get(&pages, "/sign-in", "");
    assert!(page.body.contains("Sign in at Ward sign-in"), "{}", page.body);
    let (came, path, way) = through(&pages, &faithful);
    assert_eq!((came.status, came.field("location")), (303, "/reports"), "{}", came.body);
    let own = session(&came);
    assert_eq!(get(&pages, "/results", &own).status, 200);
    assert_eq!(get(&pages, "/accounts", &own).status, 403, "roles are those set here");
    let again = get(&pages, &path, &way);
    assert_eq!(again.status, 401, "the same answer once more");
    assert!(
        again.cookie("__Host-wardwright").is_none() && again.body.contains("used already"),
        "{}",
        again.body
    );

    // Somebody whom the provider knows and nobody here.
    faithful.person("subject-2");
    let (stranger, ..) = through(&pages, &faithful);
    assert_eq!(stranger.status, 403);
    assert!(stranger.cookie("__Host-wardwright").is_none() && stranger.body.contains("subject-2"));
    // Tokens that do not hold: the reason is told, and nobody is in.
    faithful.person("subject-1");
    for (twist, word) in [
        (Twist::WrongNonce, "nonce"),
        (Twist::WrongAudience, "meant for another program"),
        (Twist::Expired, "the clock of this machine or of the provider is wrong"),
        (Twist::BadSignature, "signature"),
        (Twist::AlgNone, "signed with"),
    ] {
        faithful.twist(twist);
        let (answer, ..) = through(&pages, &faithful);
        assert_eq!(answer.status, 401, "{twist:?}");
        assert!(answer.body.contains(word), "{twist:?}: {}", answer.body);
        assert!(answer.cookie("__Host-wardwright").is_none(), "{twist:?}");
    }
    faithful.twist(Twist::Failing);
    let down = get(&pages, "/sign-in/provider", "");
    assert_eq!(down.status, 502);
    assert!(down.body.contains("status 503"), "{}", down.body);
    faithful.twist(Twist::Nothing);

    // From one place at most 30 attempts a minute, however they begin.
    let n = (0..40).take_while(|_| get(&pages, "/sign-in/provider", "").status != 429).count();
    assert!((1..30).contains(&n), "{n}");
    drop(pages);
    let pages = self::pages(&data, &["--port", &port.to_string()]);
    let own = session(&through(&pages, &faithful).0);

    // What the administrator changes holds at once.
    let only_way = refused(&["accounts", "untie", "reader", "--data", text(&data)]);
    assert!(only_way.contains("neither a password nor a subject"), "{only_way}");
    done(&["accounts", "tie", "reader", "subject-2", "--data", text(&data)], "");
    assert_eq!(get(&pages, "/results", &own).status, 303, "tied to somebody else: signed out");
    assert_eq!(through(&pages, &faithful).0.status, 403);
    faithful.person("subject-2");
    let (came, ..) = through(&pages, &faithful);
    let own = session(&came);
    done(&["accounts", "remove", "reader", "--data", text(&data)], "");
    assert_eq!(get(&pages, "/results", &own).status, 303);
    let made_again = [
        "accounts",
        "add",
        "reader",
        "--role",
        "results-reader",
        "--subject",
        "subject-9",
        "--data",
        text(&data),
    ];
    done(&made_again, "");
    assert_eq!(get(&pages, "/results", &own).status, 303, "an account of the same name is another account");
    let changes = std::fs::read_to_string(data.join("account-changes.jsonl")).unwrap();
    assert_eq!(changes.lines().count(), 5, "{changes}");
}

/// Where a browser is sent on by a page that it leaves by itself.
fn goes_on(answer: &Answer) -> String {
    let rest = answer.body.split("content=\"0; url=").nth(1).unwrap_or_else(|| panic!("{}", answer.body));
    rest.split('"').next().unwrap().replace("&amp;", "&")
}

#[test]
fn signing_out_ends_the_session_at_the_provider_too() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let faithful = Faithful::start();
    let port = free_port();
    write_provider(&data, &faithful.issuer, port, 0o600);
    let told = done(&["accounts", "provider", "--data", text(&data)], "");
    assert!(told.contains(&format!("after signing out: http://127.0.0.1:{port}/sign-in\n")), "{told}");
    let reader = [
        "accounts",
        "add",
        "reader",
        "--role",
        "results-reader",
        "--subject",
        "subject-1",
        "--data",
        text(&data),
    ];
    done(&reader, "");
    let serving = pages(&data, &["--port", &port.to_string()]);
    let own = session(&through(&serving, &faithful).0);
    let out = post(&serving, "/sign-out", &own, &[]);
    assert_eq!(out.status, 200, "{}", out.body);
    assert!(out.head.contains("Max-Age=0") && out.body.contains("Signed out here"), "{}", out.head);
    assert_eq!(
        get(&serving, "/results", &own).status,
        303,
        "the session here is over before the browser goes on"
    );
    assert_eq!(faithful.signs_in(&goes_on(&out)), format!("http://127.0.0.1:{port}/sign-in"));
    assert_eq!(faithful.ended(), ["subject-1"]);
    let again = post(&serving, "/sign-out", &own, &[]);
    assert_eq!(
        (again.status, again.field("location")),
        (303, "/sign-in"),
        "a session that is over leads nowhere"
    );
    drop(serving);

    // A provider at which the place to come back to is not registered: it can be left out.
    let path = data.join("provider.toml");
    let settings = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, format!("{settings}sign_out_there = false\n")).unwrap();
    let serving = pages(&data, &["--port", &port.to_string()]);
    let own = session(&through(&serving, &faithful).0);
    assert_eq!(post(&serving, "/sign-out", &own, &[]).field("location"), "/sign-in");
    assert_eq!(faithful.ended().len(), 1);
}

#[test]
fn where_passwords_are_for_administrators_alone_nobody_else_gets_in_by_one() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let faithful = Faithful::start();
    let port = free_port();
    for args in
        [&["reader", "--role", "results-reader"][..], &["both", "--role", "administrator,results-reader"]]
    {
        done(&[&["accounts", "add"], args, &["--data", text(&data)]].concat(), &format!("{FIRST}\n"));
    }
    write_provider(&data, &faithful.issuer, port, 0o600);
    let path = data.join("provider.toml");
    let settings = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, format!("{settings}passwords = \"administrators\"\n")).unwrap();
    let told = done(&["accounts", "provider", "--data", text(&data)], "");
    assert!(told.contains("Passwords: for administrators alone."), "{told}");

    let serving = pages(&data, &["--port", &port.to_string()]);
    let page = get(&serving, "/sign-in", "");
    assert!(page.body.contains("Passwords are for administrators alone"), "{}", page.body);
    let with = |name: &str, password: &str| {
        post(&serving, "/sign-in", "", &[("name", name), ("password", password), ("to", "")])
    };
    let reader = with("reader", FIRST);
    assert_eq!(reader.status, 403);
    assert!(reader.cookie("__Host-wardwright").is_none() && reader.body.contains("choose the button above"));
    // Whoever does not know the password is told nothing of the account.
    let wrong = with("reader", "another password of six words");
    assert_eq!(wrong.status, 401);
    assert!(!wrong.body.contains("choose the button above"));
    // An administrator gets in, and as nothing else: first passwords are changed first.
    let both = session(&with("both", FIRST));
    let own = "four herons and two mills";
    let changed = post(&serving, "/account", &both, &[("old", FIRST), ("new", own), ("again", own)]);
    assert_eq!(changed.status, 303, "{}", changed.body);
    let both = session(&changed);
    assert_eq!(get(&serving, "/accounts", &both).status, 200);
    assert_eq!(
        get(&serving, "/results", &both).status,
        403,
        "figures are for whoever came in through the provider"
    );
    // Through the provider the roles are all there.
    done(&["accounts", "tie", "both", "subject-1", "--data", text(&data)], "");
    let both = session(&through(&serving, &faithful).0);
    assert_eq!(get(&serving, "/results", &both).status, 200);
    done(&["accounts", "tie", "reader", "subject-2", "--data", text(&data)], "");
    faithful.person("subject-2");
    let reader = session(&through(&serving, &faithful).0);
    assert!(!get(&serving, "/account", &reader).body.contains("Change the password"));
    drop(serving);

    // Without an administrator's password nobody would get in while the provider is down.
    done(
        &[
            "accounts",
            "add",
            "chief",
            "--role",
            "administrator",
            "--subject",
            "subject-3",
            "--data",
            text(&data),
        ],
        "",
    );
    for name in ["admin", "both"] {
        done(&["accounts", "remove", name, "--data", text(&data)], "");
    }
    let told = refused(&["accounts", "provider", "--data", text(&data)]);
    assert!(told.contains("no administrator has a password"), "{told}");
}

/// A certificate of its own making for a name and an address, with its key, made now; in force between these years.
fn certificate(folder: &Path, name: &str, years: Option<(i32, i32)>) -> (PathBuf, PathBuf) {
    use std::os::unix::fs::PermissionsExt as _;
    let (certificate, key) = (folder.join(format!("{name}.pem")), folder.join(format!("{name}.key")));
    let names = ["draws.ward.example".to_owned(), "127.0.0.1".to_owned()];
    let mut params = rcgen::CertificateParams::new(names).unwrap();
    if let Some((first, last)) = years {
        params.not_before = rcgen::date_time_ymd(first, 1, 1);
        params.not_after = rcgen::date_time_ymd(last, 1, 1);
    }
    let pair = rcgen::KeyPair::generate().unwrap();
    std::fs::write(&certificate, params.self_signed(&pair).unwrap().pem()).unwrap();
    std::fs::write(&key, pair.serialize_pem()).unwrap();
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o600)).unwrap();
    (certificate, key)
}

fn get_encrypted(address: &str, trusted: &Path, host: &str, more: &str) -> Answer {
    let mut roots = rustls::RootCertStore::empty();
    roots.add(CertificateDer::from_pem_file(trusted).unwrap()).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let name = ServerName::try_from("draws.ward.example").unwrap();
    let connection = rustls::ClientConnection::new(Arc::new(config), name).unwrap();
    let stream = rustls::StreamOwned::new(connection, TcpStream::connect(address).unwrap());
    Answer::of(stream, &format!("GET /sign-in HTTP/1.1\r\nHost: {host}\r\n{more}Connection: close\r\n\r\n"))
}

#[test]
fn pages_are_encrypted_by_the_program_itself() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let (file, key) = certificate(folder.path(), "good", None);
    let tls = ["--tls-certificate", text(&file), "--tls-key", text(&key), "--port", "0"];
    let pages = pages(&data, &tls);
    // One that says nothing must not hold the others up.
    let _silent = TcpStream::connect(&pages.address).unwrap();
    for host in ["draws.ward.example", "draws.ward.example:8437", "127.0.0.1"] {
        let answer = get_encrypted(&pages.address, &file, host, "");
        assert_eq!(answer.status, 200, "{host}: {}", answer.head);
        assert_eq!(answer.field("strict-transport-security"), "max-age=31536000");
        assert!(answer.body.contains("Name of the account"));
    }
    let other = get_encrypted(&pages.address, &file, "elsewhere.example", "");
    assert_eq!(other.status, 421, "a name the certificate is not for");
    let plain = Answer::of(
        TcpStream::connect(&pages.address).unwrap(),
        "GET /sign-in HTTP/1.1\r\nHost: draws.ward.example\r\n\r\n",
    );
    assert_ne!(plain.status, 200, "nothing is said in the clear");
    assert!(!plain.body.contains("Name of the account"));
}

#[test]
fn what_would_not_be_encrypted_or_cannot_be_is_refused_with_the_reason() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let serve = |more: &[&str]| refused(&[&["serve", "--data", text(&data), "--port", "0"], more].concat());
    let told = serve(&["--address", "0.0.0.0"]);
    assert!(told.contains("nothing would be encrypted"), "{told}");
    let told = serve(&["--address", "0.0.0.0", "--behind", "draws.ward.example"]);
    assert!(told.contains("loopback"), "{told}");

    let (file, key) = certificate(folder.path(), "good", None);
    let (_, other_key) = certificate(folder.path(), "other", None);
    let (old, old_key) = certificate(folder.path(), "old", Some((2020, 2021)));
    let (early, early_key) = certificate(folder.path(), "early", Some((2090, 2091)));
    let none = folder.path().join("none.pem");
    std::fs::write(&none, "no certificate\n").unwrap();
    std::fs::set_permissions(&none, std::fs::Permissions::from_mode(0o600)).unwrap();
    let with = |file: &Path, key: &Path| serve(&["--tls-certificate", text(file), "--tls-key", text(key)]);
    for (told, word) in [
        (with(&folder.path().join("gone.pem"), &key), "cannot be read"),
        (with(&none, &key), "no certificate in it"),
        (with(&file, &none), "no private key in it"),
        (with(&file, &other_key), "the key of another certificate"),
        (with(&old, &old_key), "a certificate that ended"),
        (with(&early, &early_key), "this machine's clock"),
    ] {
        assert!(told.contains(word) && told.contains("expected:"), "{word}: {told}");
    }
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o644)).unwrap();
    let told = with(&file, &key);
    assert!(told.contains("chmod 640"), "{told}");
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o600)).unwrap();

    // Other machines are let in only where people sign in.
    let open = folder.path().join("open");
    done(&["setup", "--data", text(&open), "--unit", "Invented ward"], "");
    let told = refused(&[
        "serve",
        "--data",
        text(&open),
        "--port",
        "0",
        "--address",
        "0.0.0.0",
        "--tls-certificate",
        text(&file),
        "--tls-key",
        text(&key),
    ]);
    assert!(told.contains("a unit without accounts"), "{told}");
}

/// Sends a form as a browser does, with the secret of the page it stands on.
fn post(pages: &Pages, path: &str, cookie: &str, form: &[(&str, &str)]) -> Answer {
    let page = get(pages, path, cookie);
    let secret = page
        .body
        .split("name=\"form-secret\" value=\"")
        .nth(1)
        .map_or("", |rest| rest.split('"').next().unwrap())
        .to_owned();
    let mut body = form_urlencoded::Serializer::new(String::new());
    body.append_pair("form-secret", &secret).extend_pairs(form);
    let (body, host) = (body.finish(), &pages.address);
    Answer::of(
        TcpStream::connect(host).unwrap(),
        &format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        ),
    )
}

#[test]
fn wrong_passwords_wait_and_an_administrator_opens_the_account_again() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    done(
        &["accounts", "add", "reader", "--role", "results-reader", "--data", text(&data)],
        &format!("{FIRST}\n"),
    );
    let pages = pages(&data, &["--port", "0"]);
    let try_with =
        |name: &str, password: &str| post(&pages, "/sign-in", "", &[("name", name), ("password", password)]);
    let admin = session(&try_with("admin", FIRST));
    let own = "seven grey herons by a weir";
    let changed = post(&pages, "/account", &admin, &[("old", FIRST), ("new", own), ("again", own)]);
    assert_eq!(changed.status, 303, "{}", changed.body);
    assert_eq!(get(&pages, "/accounts", &admin).status, 303, "the old session is over");
    let admin = session(&changed);
    for _ in 0..5 {
        assert_eq!(try_with("reader", "not this one at all").status, 401);
    }
    let waits = try_with("reader", FIRST);
    assert_eq!(waits.status, 429, "the right one is not looked at either");
    assert!(waits.body.contains("several wrong passwords in a row"), "{}", waits.body);
    assert_eq!(try_with("admin", own).status, 303, "others do not wait");
    let listed = get(&pages, "/accounts", &admin);
    assert!(listed.body.contains("wrong passwords; waits until"), "{}", listed.body);
    let opened = post(&pages, "/accounts", &admin, &[("do", "unlock"), ("name", "reader")]);
    assert!(opened.status == 200 && opened.body.contains("may try again"), "{}", opened.body);
    assert_eq!(try_with("reader", FIRST).status, 303);
    // What cannot be a name or a subject is refused in plain words, and nothing is stored.
    let before = std::fs::read_to_string(data.join("accounts.toml")).unwrap();
    let long = "x".repeat(300);
    for name in
        ["", " ", "<script>alert(1)</script>", "\u{202e}reader", "😀", "émile", &long, "a b", "reader"]
    {
        let answer =
            post(&pages, "/accounts", &admin, &[("do", "add"), ("name", name), ("role", "results reader")]);
        assert_eq!(answer.status, 422, "{name}");
        assert!(answer.body.contains("Nothing typed is lost") && !answer.body.contains("<script>"), "{name}");
    }
    for (role, person) in [("learner", ""), ("learner", "n999"), ("", "")] {
        let answer = post(
            &pages,
            "/accounts",
            &admin,
            &[("do", "add"), ("name", "new"), ("role", role), ("person", person)],
        );
        assert_eq!(answer.status, 422, "{role} {person}");
    }
    assert_eq!(std::fs::read_to_string(data.join("accounts.toml")).unwrap(), before);
    // A first password that the page drew is one with which somebody signs in.
    let drawn = post(&pages, "/accounts", &admin, &[("do", "password"), ("name", "reader")]);
    let password =
        drawn.body.split("first-password\">").nth(1).unwrap().split('<').next().unwrap().to_owned();
    assert_eq!(try_with("reader", FIRST).status, 401);
    let signed_in = try_with("reader", &password);
    assert_eq!((signed_in.status, signed_in.field("location")), (303, "/account"));
    for file in ["accounts.toml", "account-changes.jsonl"] {
        assert!(!std::fs::read_to_string(data.join(file)).unwrap().contains(&password), "{file}");
    }
}

#[test]
fn a_session_that_is_wrong_over_or_replayed_shows_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let data = unit(folder.path());
    let pages = pages(&data, &["--port", "0"]);
    let own = session(&post(&pages, "/sign-in", "", &[("name", "admin"), ("password", FIRST)]));
    assert_eq!(get(&pages, "/account", &own).status, 200);
    let made_up = format!("__Host-wardwright={}", "0".repeat(64));
    let long = format!("__Host-wardwright={}", "a".repeat(5_000));
    for bad in
        ["", "__Host-wardwright=", "__Host-wardwright=<script>", &made_up, &long, &own.replace("__Host-", "")]
    {
        let answer = get(&pages, "/account", bad);
        assert_eq!((answer.status, answer.field("location")), (303, "/sign-in?to=%2Faccount"), "{bad}");
    }
    assert_eq!(post(&pages, "/sign-in", &own, &[("name", "admin"), ("password", FIRST)]).status, 303);
    assert_eq!(get(&pages, "/account", &own).status, 303, "signing in anew ends the session of before");
    let own = session(&post(&pages, "/sign-in", "", &[("name", "admin"), ("password", FIRST)]));
    let host = &pages.address;
    let out = Answer::of(
        TcpStream::connect(host).unwrap(),
        &format!(
            "POST /sign-out HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {own}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
        ),
    );
    assert_eq!(out.status, 303);
    assert_eq!(get(&pages, "/account", &own).status, 303, "a token kept from before signing out");
    // A form whose session is over is refused with plain words; the secret alone lets nothing through.
    let late = post(&pages, "/sign-in", "", &[("name", "x"), ("password", "y")]);
    assert_eq!(late.status, 401);
    let answer = Answer::of(
        TcpStream::connect(host).unwrap(),
        &format!(
            "POST /accounts HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {own}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 9\r\nConnection: close\r\n\r\ndo=unlock"
        ),
    );
    assert!(answer.status == 401 && answer.body.contains("nothing typed is lost"), "{}", answer.body);
}

//! The program as people run it: arguments, exit codes, what is printed and written.

#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn gradeline(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gradeline"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// A system whose values are consistent with one another to full precision, with one of them unknown.
fn system(replaced: &str, by: &str) -> String {
    let text = "\
fluid: { density: 998 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }
gravity: 9.81 m/s^2
flow: 2.0 L/s
stations:
  start: { pressure: 320 kPa, elevation: 0 m, velocity: pipe }
  end: { pressure: 0 kPa, elevation: 12 m, velocity: 0 m/s }
path:
  - pipe: { name: riser, diameter: 40 mm, length: 60 m, roughness: 0.15 mm }
  - loss: { name: gate valve, K: 0.2 }
  - pump: { name: booster, head: 15 m }
  - pipe: { name: branch, diameter: 25 mm, length: 9 m, roughness: 0.15 mm }
  - loss: { name: exit, K: 1.0 }
";
    assert!(text.contains(replaced), "{replaced}");
    text.replacen(replaced, by, 1)
}

fn solved(folder: &Path, yaml: &str) -> Value {
    fs::write(folder.join("case.yaml"), yaml).unwrap();
    let output = gradeline(folder, &["solve", "case.yaml", "--format", "json"]);
    assert!(output.status.success(), "{}", said(&output));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn every_listed_unknown_is_solved_and_solving_back_returns_the_given() {
    let room = tempfile::tempdir().unwrap();
    // The start pressure makes the rest consistent: every other unknown must then come back as given.
    let first = solved(room.path(), &system("pressure: 320 kPa", "pressure: unknown"));
    let pressure = first["unknown"]["value"].as_f64().unwrap();
    assert_eq!(first["unknown"]["unit"], "Pa");
    let with_pressure = format!("pressure: {pressure:.12e} Pa");
    for (name, replaced, by, given, unit) in [
        ("flow", "flow: 2.0 L/s", "flow: unknown", 2.0e-3, "m3/s"),
        (
            "diameter of riser",
            "diameter: 40 mm",
            "diameter: unknown",
            0.040,
            "m",
        ),
        ("length of branch", "length: 9 m", "length: unknown", 9.0, "m"),
        (
            "roughness of riser",
            "roughness: 0.15 mm",
            "roughness: unknown",
            0.15e-3,
            "m",
        ),
        ("K of gate valve", "K: 0.2", "K: unknown", 0.2, "1"),
        (
            "pressure at the end",
            "pressure: 0 kPa",
            "pressure: unknown",
            0.0,
            "Pa",
        ),
        (
            "elevation of the start",
            "elevation: 0 m",
            "elevation: unknown",
            0.0,
            "m",
        ),
        (
            "elevation of the end",
            "elevation: 12 m",
            "elevation: unknown",
            12.0,
            "m",
        ),
        ("head of booster", "head: 15 m", "head: unknown", 15.0, "m"),
        (
            "power of booster",
            "head: 15 m",
            "power: unknown, efficiency: 70 %",
            998.0 * 9.81 * 2.0e-3 * 15.0 / 0.70,
            "W",
        ),
    ] {
        let yaml = system(replaced, by).replacen("pressure: 320 kPa", &with_pressure, 1);
        let json = solved(room.path(), &yaml);
        assert_eq!(json["unknown"]["name"], name);
        assert_eq!(json["unknown"]["unit"], unit);
        let value = json["unknown"]["value"].as_f64().unwrap();
        // Pressures of 300 kPa and heads of tens of metres stand behind values of 0.
        let scale = f64::abs(given).max(if unit == "Pa" { 3e5 } else { 1e-9 });
        let slack = if given == 0.0 {
            1e-9 * scale.max(50.0)
        } else {
            1e-8 * scale
        };
        assert!((value - given).abs() <= slack, "{name}: {value} for {given}");
        assert!((json["flow"].as_f64().unwrap() - 2.0e-3).abs() < 2e-11, "{name}");
        for key in ["velocity", "reynolds", "friction_factor", "major_head_loss"] {
            assert!(json["pipes"][0][key].is_f64(), "{key}");
        }
        assert_eq!(json["pipes"][1]["name"], "branch");
        assert!(json["pipes"][0]["regime"].is_string());
        assert!(json["head_loss"].is_f64() && json["pump_head"].is_f64());
        assert!(json["warnings"].is_array());
    }
}

#[test]
fn a_system_is_shown_in_every_format() {
    let room = tempfile::tempdir().unwrap();
    fs::write(
        room.path().join("case.yaml"),
        system("flow: 2.0 L/s", "flow: unknown"),
    )
    .unwrap();
    for (format, has) in [
        ("text", "Reynolds"),
        ("md", "Reynolds"),
        ("tex", "\\begin{document}"),
        ("html", "<math"),
        ("json", "{"),
    ] {
        let output = gradeline(room.path(), &["solve", "case.yaml", "--format", format]);
        assert!(output.status.success(), "{}", said(&output));
        assert!(String::from_utf8_lossy(&output.stdout).contains(has), "{format}");
    }
    // A PDF goes into a file, or is a fault that says what to do.
    let pdf = gradeline(room.path(), &["solve", "case.yaml", "--format", "pdf"]);
    assert!(
        pdf.status.code() == Some(2) && said(&pdf).contains("--output"),
        "{}",
        said(&pdf)
    );
    let pdf = gradeline(
        room.path(),
        &["solve", "case.yaml", "--format", "pdf", "--output", "case.pdf"],
    );
    if cfg!(feature = "pdf") {
        assert!(pdf.status.success(), "{}", said(&pdf));
        assert!(
            fs::read(room.path().join("case.pdf"))
                .unwrap()
                .starts_with(b"%PDF")
        );
    } else {
        assert!(pdf.status.code() == Some(2) && said(&pdf).contains("feature `pdf`"));
    }
    // The ending of a file says the format.
    assert!(
        gradeline(room.path(), &["solve", "case.yaml", "--output", "case.html"])
            .status
            .success()
    );
    assert!(
        fs::read(room.path().join("case.html"))
            .unwrap()
            .starts_with(b"<!")
    );
    // A value with which nothing can be worked out is named with its place.
    fs::write(
        room.path().join("huge.yaml"),
        system("length: 60 m", "length: 1e300 m"),
    )
    .unwrap();
    let huge = gradeline(room.path(), &["solve", "huge.yaml"]);
    assert!(
        huge.status.code() == Some(2) && said(&huge).contains("huge.yaml:8:") && said(&huge).contains("1e30"),
        "{}",
        said(&huge)
    );
    let us = gradeline(room.path(), &["solve", "case.yaml", "--units", "us"]);
    assert!(String::from_utf8_lossy(&us.stdout).contains("ft/s"));
}

/// Every system that a page of the documentation shows, with the page's name.
fn documented() -> Vec<(String, String)> {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let mut pages: Vec<_> = fs::read_dir(docs).unwrap().map(|e| e.unwrap().path()).collect();
    pages.sort();
    let mut all = Vec::new();
    for page in pages {
        let text = fs::read_to_string(&page).unwrap();
        for rest in text.split("```yaml system\n").skip(1) {
            let name = page.file_name().unwrap().to_string_lossy().into_owned();
            all.push((name, rest.split("```").next().unwrap().to_owned()));
        }
    }
    all
}

#[test]
fn every_system_in_the_documentation_is_solved_in_every_format() {
    let room = tempfile::tempdir().unwrap();
    let all = documented();
    for key in [
        "path:",
        "section:",
        "curve:",
        "fitting:",
        "equivalent ",
        "expansion:",
        "point:",
        "sizes:",
        "nodes:",
        "tank:",
        "second tank:",
        "meter:",
        "profile:",
        "gauges:",
        "ageing:",
    ] {
        assert!(
            all.iter().any(|(_, yaml)| yaml.contains(key)),
            "no example has `{key}`"
        );
    }
    for (page, yaml) in all {
        fs::write(room.path().join("case.yaml"), &yaml).unwrap();
        for (format, has) in [
            ("text", "1. "),
            ("md", "## 1. "),
            ("tex", "\\begin{document}"),
            ("html", "<h2>1. "),
        ] {
            for units in ["si", "us"] {
                let output = gradeline(
                    room.path(),
                    &["solve", "case.yaml", "--format", format, "--units", units],
                );
                // 1 says that a person has to choose between two answers.
                assert!(
                    output.status.code().is_some_and(|code| code < 2),
                    "{page}\n{yaml}\n{}",
                    said(&output)
                );
                assert!(
                    String::from_utf8_lossy(&output.stdout).contains(has),
                    "{page}: {format}"
                );
            }
        }
        let output = gradeline(room.path(), &["solve", "case.yaml", "--format", "json"]);
        let json: Value =
            serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{page}: {}", said(&output)));
        assert!(json["warnings"].is_array(), "{page}");
    }
}

#[test]
fn why_careful_answers_differ_is_told_for_any_result() {
    let room = tempfile::tempdir().unwrap();
    let (_, yaml) = (documented().into_iter())
        .find(|(page, _)| page == "bands.md")
        .unwrap();
    fs::write(room.path().join("case.yaml"), &yaml).unwrap();
    let why = |arguments: &[&str]| {
        gradeline(
            room.path(),
            &[&["solve", "case.yaml", "--why"], arguments].concat(),
        )
    };
    // The documentation shows what is printed.
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/bands.md");
    let page = fs::read_to_string(page).unwrap();
    // Its blanks that hold a number and its sign together are plain ones on the page.
    let markdown = said(&why(&["Re", "--format", "md"])).replace('\u{a0}', " ");
    let rows: Vec<&str> = markdown.lines().filter(|line| line.starts_with('|')).collect();
    assert!(rows.len() > 6, "{markdown}");
    for row in rows {
        assert!(page.lines().any(|line| line == row), "docs/bands.md lacks\n{row}");
    }
    let json: Value = serde_json::from_slice(&why(&["Re", "--format", "json"]).stdout).unwrap();
    let causes = json["causes"].as_array().unwrap();
    let shares: f64 = causes.iter().map(|cause| cause["share"].as_f64().unwrap()).sum();
    assert!((shares - 1.0).abs() < 1e-9, "{json}");
    for cause in causes {
        assert!(json["low"].as_f64() <= cause["low"].as_f64(), "{json}");
        assert!(cause["high"].as_f64() <= json["high"].as_f64(), "{json}");
    }
    for (arguments, has) in [
        (&["Q"][..], "reading the chart"),
        (&["Q", "--format", "tex"], "reading the chart"),
        (&["p_1 - p_2 + rho*V^2/2"], "all together"),
        (&["V", "--units", "us"], "ft/s"),
    ] {
        let output = why(arguments);
        assert!(output.status.success(), "{}", said(&output));
        assert!(said(&output).contains(has), "{arguments:?}: {}", said(&output));
    }
    for (result, says) in [
        ("V_main", "near are `V`"),
        ("h_l", "`h_L`"),
        ("Reynolds", "its results are"),
        ("V +", "can't be explained"),
        ("Q + V", "can't be explained"),
    ] {
        let output = why(&[result]);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains(says), "{result}: {}", said(&output));
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn a_system_that_cannot_flow_says_so_and_nothing_is_printed() {
    let room = tempfile::tempdir().unwrap();
    let yaml = system("flow: 2.0 L/s", "flow: unknown").replace("elevation: 12 m", "elevation: 200 m");
    fs::write(room.path().join("case.yaml"), yaml).unwrap();
    let output = gradeline(room.path(), &["solve", "case.yaml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    assert!(said(&output).contains("no flow"), "{}", said(&output));
}

#[test]
fn all_faults_of_a_file_come_at_once_with_their_places() {
    let room = tempfile::tempdir().unwrap();
    let yaml = system("flow: 2.0 L/s", "flow: unknown")
        .replace("diameter: 40 mm", "diametre: 40 mm")
        .replace(
            "roughness: 0.15 mm }\n  - loss: { name: exit",
            "roughness: 2 m/s }\n  - loss: { name: exit",
        );
    fs::write(room.path().join("case.yaml"), yaml).unwrap();
    let output = gradeline(room.path(), &["solve", "case.yaml"]);
    assert_eq!(output.status.code(), Some(2));
    let said = said(&output);
    assert!(said.contains("diametre") && said.contains("diameter"), "{said}");
    assert!(said.contains("case.yaml:8:"), "{said}");
    assert!(
        said.contains("case.yaml:11:") && said.contains("length"),
        "{said}"
    );
}

#[test]
fn arguments_that_make_no_sense_do_nothing() {
    let room = tempfile::tempdir().unwrap();
    for arguments in [
        &["deel"][..],
        &["solve", "missing.yaml"],
        &["deal", "week-1"],
        &["mark", "week-1", "returned"],
        &["report", "week-1"],
        &["fluid", "watr"],
        &["fluid", "water", "5 m"],
        &["chart", "--at", "1e12", "7"],
        &["chart", "--at", "-5", "0.01"],
        &["chart", "--across", "smooth"],
        &["fluid", "water", "-5 degC"],
        &["tables", "--format", "html", "--output", "tables.pdf"],
        &["drill", "astronomy"],
    ] {
        let output = gradeline(room.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", said(&output));
        assert!(!output.stderr.is_empty(), "{arguments:?}");
    }
    assert_eq!(
        fs::read_dir(room.path()).unwrap().count(),
        0,
        "something was written"
    );
}

/// The names of files that two folders do not have alike.
fn unlike(one: &[(String, Vec<u8>)], other: &[(String, Vec<u8>)]) -> Vec<String> {
    let missing = |from: &[(String, Vec<u8>)], of: &[(String, Vec<u8>)]| -> Vec<String> {
        of.iter()
            .filter(|file| !from.contains(file))
            .map(|(name, _)| name.clone())
            .collect()
    };
    let mut all = missing(one, other);
    all.extend(missing(other, one));
    all.sort();
    all.dedup();
    all
}

/// Every file below a folder with its contents.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        // A folder that is not there has no files.
        for entry in fs::read_dir(next).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.push((name, fs::read(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

#[test]
fn the_demonstration_does_the_whole_job_and_the_same_every_time() {
    let room = tempfile::tempdir().unwrap();
    let output = gradeline(room.path(), &["demo", "first"]);
    assert!(output.status.success(), "{}", said(&output));
    let first = contents(&room.path().join("first"));
    // Over what is there, and the same: a class's PDFs take long enough to make them no third time.
    let again = gradeline(room.path(), &["demo", "first"]);
    assert!(again.status.success(), "{}", said(&again));
    assert_eq!(unlike(&first, &contents(&room.path().join("first"))), [""; 0]);

    let first = room.path().join("first");
    let dealt = first.join("dealt/week-3");
    assert_eq!(fs::read_dir(dealt.join("students")).unwrap().count(), 24);
    for format in ["md", "tex", "html", "pdf"] {
        let there = dealt.join(format!("students/d01/handout.{format}")).is_file();
        assert!(there || (format == "pdf" && !cfg!(feature = "pdf")), "{format}");
    }
    // One file for the copier of each kind.
    let packets = contents(&dealt.join("instructor/packets"));
    let packets: Vec<&str> = packets.iter().map(|(name, _)| name.as_str()).collect();
    let expected = ["handouts.pdf", "keys.pdf", "worked.pdf"];
    assert_eq!(packets, if cfg!(feature = "pdf") { &expected[..] } else { &[] });
    for file in [
        "gradebook.csv",
        "items.csv",
        "review.csv",
        "report.md",
        "feedback/d01.md",
    ] {
        assert!(first.join("marked/week-3").join(file).is_file(), "{file}");
    }
    // No answer leaves the instructor's folder: nothing of the key is below the students'.
    for (name, _) in contents(&dealt.join("students")) {
        let file = Path::new(&name)
            .file_name()
            .unwrap()
            .to_string_lossy()
            .into_owned();
        assert!(file == "answers.csv" || file.starts_with("handout"), "{name}");
    }
    let key = fs::read(first.join("course.key")).unwrap();
    for (name, bytes) in contents(&first) {
        assert!(
            name == "course.key" || !bytes.windows(key.len()).any(|w| w == key),
            "{name} holds the course key"
        );
    }
    // Marking again gives the same bytes.
    let marked = contents(&first.join("marked"));
    let output = gradeline(&first, &["mark", "week-3", "returned/week-3"]);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", said(&output));
    assert_eq!(unlike(&marked, &contents(&first.join("marked"))), [""; 0]);
    let report = gradeline(&first, &["report", "week-3"]);
    assert!(report.status.success() && !report.stdout.is_empty());
    // A folder of somebody else's is left alone.
    fs::create_dir(room.path().join("mine")).unwrap();
    fs::write(room.path().join("mine/notes.txt"), "mine").unwrap();
    assert_eq!(gradeline(room.path(), &["demo", "mine"]).status.code(), Some(2));
}

#[test]
fn a_new_course_deals_marks_and_keeps_what_was_dealt() {
    let room = tempfile::tempdir().unwrap();
    assert!(gradeline(room.path(), &["start", "course"]).status.success());
    assert_eq!(
        gradeline(room.path(), &["start", "course"]).status.code(),
        Some(2)
    );
    let course = room.path().join("course");
    let output = gradeline(&course, &["deal", "week-1"]);
    assert!(output.status.success(), "{}", said(&output));
    let dealt = contents(&course.join("dealt"));
    assert!(gradeline(&course, &["deal", "week-1"]).status.success());
    assert_eq!(
        dealt,
        contents(&course.join("dealt")),
        "dealing twice gives the same bytes"
    );

    // A student who joins changes nobody's numbers.
    let roster = fs::read_to_string(course.join("roster.csv")).unwrap();
    fs::write(
        course.join("roster.csv"),
        format!("{roster}s004,Dara Finch,dara@example.org\n"),
    )
    .unwrap();
    assert!(gradeline(&course, &["deal", "week-1"]).status.success());
    for (name, bytes) in contents(&course.join("dealt/week-1/students/s001")) {
        let before = dealt
            .iter()
            .find(|(n, _)| *n == format!("week-1/students/s001/{name}"))
            .unwrap();
        assert_eq!(before.1, bytes, "{name}");
    }

    // Other templates would change papers that students hold: their words at least, or their numbers.
    let template = course.join("banks/cistern-outlet.yaml");
    let text = fs::read_to_string(&template).unwrap();
    fs::write(&template, text.replace("version: 1", "version: 2")).unwrap();
    let output = gradeline(&course, &["deal", "week-1"]);
    assert!(
        said(&output).contains("4 of its 4 students would get other problems"),
        "{}",
        said(&output)
    );
    fs::write(
        &template,
        text.replace("Where does the", "Where at last does the"),
    )
    .unwrap();
    let output = gradeline(&course, &["deal", "week-1"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("every student would keep their numbers")
            && said(&output).contains("--replace"),
        "{}",
        said(&output)
    );
    assert!(
        gradeline(&course, &["deal", "week-1", "--replace"])
            .status
            .success()
    );

    // The blank sheets go back unanswered, and one ruling gives a mark all the same.
    fs::create_dir(course.join("rulings")).unwrap();
    fs::write(
        course.join("rulings/week-1.csv"),
        "student,problem,part,marks,note\ns001,1,velocity,1,shown on paper\n",
    )
    .unwrap();
    let output = gradeline(&course, &["mark", "week-1", "dealt/week-1/students"]);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", said(&output));
    let gradebook = fs::read_to_string(course.join("marked/week-1/gradebook.csv")).unwrap();
    let row = gradebook.lines().find(|l| l.starts_with("s001")).unwrap();
    assert_eq!(row.split(',').nth(2), Some("1"), "{row}");
}

#[test]
fn marking_tells_what_a_grader_may_not_expect() {
    let room = tempfile::tempdir().unwrap();
    let outside = gradeline(room.path(), &["report", "week-1"]);
    assert_eq!(outside.status.code(), Some(2));
    assert!(said(&outside).contains("no course folder"), "{}", said(&outside));
    let outside = gradeline(room.path(), &["mark", "week-1", "."]);
    assert!(said(&outside).contains("no course folder"), "{}", said(&outside));
    assert!(gradeline(room.path(), &["start", "course"]).status.success());
    let course = room.path().join("course");
    assert!(gradeline(&course, &["deal", "week-1"]).status.success());
    let head = "student,problem,part,answer\n";
    fs::write(
        course.join("first.csv"),
        format!("{head}s001,1,velocity,1 m/s\ns002,1,velocity,2 m/s\n"),
    )
    .unwrap();
    fs::write(course.join("late.csv"), format!("{head}s002,1,velocity,1 m/s\n")).unwrap();
    let both = gradeline(&course, &["mark", "week-1", "first.csv"]);
    assert!(!said(&both).contains("none now"), "{}", said(&both));
    // Latecomers alone: whoever was marked before is missed.
    let late = gradeline(&course, &["mark", "week-1", "late.csv"]);
    assert!(
        said(&late).contains("1 student had answers who have none now: s001"),
        "{}",
        said(&late)
    );
    assert_eq!(late.status.code(), Some(2));
    let items = fs::read_to_string(course.join("marked/week-1/items.csv")).unwrap();
    assert!(items.contains("s001,1,velocity,1 m/s"), "{items}");
    let late = gradeline(&course, &["mark", "week-1", "late.csv", "--replace"]);
    assert!(matches!(late.status.code(), Some(0 | 1)));
    assert!(course.join("dealt/week-1/friction-chart.pdf").exists() || cfg!(not(feature = "pdf")));
    // Another policy counts once the set is dealt again.
    let yaml = fs::read_to_string(course.join("course.yaml")).unwrap();
    let (before, after) = ("slip share: 0.5", "slip share: 0.25");
    assert!(yaml.contains(before), "{yaml}");
    fs::write(course.join("course.yaml"), yaml.replace(before, after)).unwrap();
    let marked = gradeline(&course, &["mark", "week-1", "late.csv"]);
    assert!(
        said(&marked).contains("changed since this set was dealt (slip share)"),
        "{}",
        said(&marked)
    );
    assert!(gradeline(&course, &["deal", "week-1"]).status.success());
    let marked = gradeline(&course, &["mark", "week-1", "late.csv"]);
    assert!(!said(&marked).contains("has changed"), "{}", said(&marked));
}

#[test]
fn a_killed_run_leaves_the_old_output_or_the_new_one() {
    let room = tempfile::tempdir().unwrap();
    assert!(gradeline(room.path(), &["start", "course"]).status.success());
    let course = room.path().join("course");
    assert!(gradeline(&course, &["deal", "week-1"]).status.success());
    let old = contents(&course.join("dealt/week-1"));
    let mut roster = fs::read_to_string(course.join("roster.csv")).unwrap();
    for n in 4..60 {
        roster.push_str(&format!("s{n:03},Student {n},s{n:03}@example.org\n"));
    }
    fs::write(course.join("roster.csv"), roster).unwrap();
    let start = |folder: &Path| {
        Command::new(env!("CARGO_BIN_EXE_gradeline"))
            .args(["deal", "week-1"])
            .current_dir(folder)
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap()
    };
    // Answers, and handout, key and worked solutions in each format; the record and the page on difficulty; packets. Of
    // drawings two schematics in a handout, and with a chart and grade lines each in a worked solution, for Markdown; for
    // LaTeX a file for each paper. The formula sheet in each format, and the chart.
    let drawings = 2 + 2 * 3;
    let all = if cfg!(feature = "pdf") {
        59 * (1 + 3 * 4 + drawings + 2) + 2 + 3 + 4 + 1
    } else {
        59 * (1 + 3 * 3 + drawings) + 2 + 3 + 1
    };
    let mut killed = 0;
    for n in 0..40 {
        let mut run = start(&course);
        std::thread::sleep(std::time::Duration::from_millis(3 * n));
        // The run may be over already.
        if run.try_wait().unwrap().is_none() {
            killed += 1;
        }
        run.kill().unwrap();
        run.wait().unwrap();
        let now = contents(&course.join("dealt/week-1"));
        if now.len() != old.len() {
            assert_eq!(now.len(), all, "run {n} left something half written");
            break;
        }
        assert_eq!(unlike(&old, &now), [""; 0], "run {n} changed the old output");
    }
    assert!(killed > 0, "no run was killed in time");
    // Whatever was left by killed runs, the next one does the whole work.
    assert!(start(&course).wait().unwrap().success());
    assert_eq!(contents(&course.join("dealt/week-1")).len(), all);
}

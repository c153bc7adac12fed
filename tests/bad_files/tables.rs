//! Tables of readings and tablets that cannot be used.

use twinwedge_core::problem::Problem;
use twinwedge_workbench::load;

use crate::clear;

fn read(bytes: &[u8], name: &str, tablet: bool, words: &[&str]) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).expect("written");
    let shown = path.display().to_string();
    let problem: Problem = match load::text(&path) {
        Err(problem) => problem,
        Ok(text) if tablet => load::tablet(&text, &shown).expect_err(name),
        Ok(text) => load::readings(&text, &shown).expect_err(name),
    };
    clear(&problem, &path, words);
}

#[test]
fn each_bad_table_gives_one_clear_problem() {
    let readings: &[(&str, &[u8], &[&str])] = &[
        ("empty.csv", b"", &["no reading"]),
        ("blank.csv", b"\n\n \n", &["no reading"]),
        ("header-only.csv", b"step;density\n", &["no reading"]),
        ("words.csv", b"step,density\n1,0.10\n2,dense\n", &["line 3, column 2", "'dense'", "number"]),
        ("bytes.csv", b"step;density\n1;0.10\n\xFC\x00\x01\n", &["byte 22", "no text"]),
        ("utf16.csv", b"\xFF\xFE1\0;\0x", &["byte 7", "no text"]),
        ("twice.csv", b"1;0.10\n2;0.20\n2;0.30\n", &["line 3", "Step 2", "twice"]),
        ("percent.csv", b"1,10\n2,20\n3,50\n", &["line 1", "10 is no density"]),
        ("dense.csv", b"1;0.1\n2;60\n", &["line 2, column 2", "60 is no density"]),
        ("infinite.csv", b"1;inf\n", &["'inf'"]),
        ("wide.csv", b"1;2;3;4\n", &["4 columns"]),
        ("no-steps.csv", b"0.1;0.2\n0.3;0.4\n", &["line 1, column 1", "not the number of a step"]),
        ("unread.csv", b"step;density\n1;\n2;\n", &["no reading"]),
        ("doubtful.csv", b"1;0.1;5\n", &["line 1", "3 columns"]),
        ("unsure.csv", b"step;density;u\n1;0.1;5\n", &["line 2, column 3", "no uncertainty"]),
    ];
    for (name, bytes, words) in readings {
        read(bytes, name, false, words);
    }
    let tablets: &[(&str, &[u8], &[&str])] = &[
        ("one-step.csv", b"1;0.05\n", &["one step only"]),
        ("unsorted.csv", b"1;0.05\n2;0.35\n3;0.20\n", &["line 3", "step 3 has 0.2 after 0.35"]),
        ("level.csv", b"0.05\n0.20\n0.20\n0.35\n", &["line 3", "rise"]),
        ("gap.csv", b"1;0.05\n2;0.20\n4;0.50\n", &["line 3", "Step 3 of the tablet has no density"]),
        ("falling.csv", b"1;3.05\n2;2.90\n3;2.75\n", &["line 2", "rise"]),
    ];
    for (name, bytes, words) in tablets {
        read(bytes, name, true, words);
    }
}

#[test]
fn text_beyond_any_table_is_refused() {
    read(&vec![b'1'; (16 << 20) + 1], "endless.csv", false, &["16 MiB"]);
}

//! `cargo dev package`: the finished program as a Debian package and as an archive to unpack anywhere, in `target/package`.
//!
//! It needs what Debian's `dpkg-dev`, `binutils` and `man-db` bring. `.ci/package` installs these, makes both and tries them in a root of
//! their own.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::{Failure, say};

const DESKTOP_ENTRY: &str = include_str!("twinwedge.desktop");
const MIME: &str = include_str!("mime.xml");
const METAINFO: &str = include_str!("metainfo.xml");
const COPYRIGHT: &str = include_str!("copyright");

/// Edges of the icons in pixels; `icons/twinwedge-EDGE.png`.
const ICON_EDGES: [u32; 8] = [16, 24, 32, 48, 64, 128, 256, 512];

/// What the window loads when it starts, so that the program's own links do not name it.
const LOADED_AT_START: &str =
    "libx11-6, libx11-xcb1, libxcursor1, libxi6, libxkbcommon0, libxkbcommon-x11-0, libgl1, libegl1";

const MAINTAINER: &str = "The Twinwedge contributors <twinwedge@example.org>";

const DESCRIPTION: &str = "compare a black-and-white film with a reference film
 Twinwedge lays a candidate film beside a reference film and says, with
 numbers and pictures, how they differ. From scans of step tablets, prints
 and negatives, or from densitometer readings, it makes characteristic
 curves, speed, contrast, colours as greys, grain and detail, each with its
 uncertainty, and a report that a reader can check.
 .
 Everything also works without a window, as verbs that print JSON.";

/// Where the parts of a package go.
#[derive(Debug)]
struct Package {
    top: PathBuf,
    /// `target/package`, made anew.
    out: PathBuf,
    version: String,
    /// Day of the last commit, in the two ways it is written.
    day: String,
    changelog_date: String,
}

/// Makes both; prints where they are and how large.
///
/// # Errors
/// What could not be made, or which command is missing.
pub(crate) fn run(top: &Path) -> Result<(), Failure> {
    let package = Package::begin(top)?;
    let program = package.program()?;
    let root = package.out.join("root");
    package.stage(&program, &root.join("usr"))?;
    let deb = package.debian(&root)?;
    let archive = package.archive(&root.join("usr"))?;
    for made in [&deb, &archive] {
        say(format_args!("{}: {:.1} MB", made.display(), fs::metadata(made)?.len() as f64 / 1e6));
    }
    Ok(())
}

impl Package {
    fn begin(top: &Path) -> Result<Self, Failure> {
        let out = top.join("target/package");
        if out.exists() {
            fs::remove_dir_all(&out)?;
        }
        fs::create_dir_all(&out)?;
        let date = |format: &str| told(Command::new("git").args(["log", "-1", format]).current_dir(top));
        Ok(Self {
            top: top.to_owned(),
            out,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            day: date("--format=%cs")?,
            changelog_date: date("--format=%cD")?,
        })
    }

    /// Builds the program and takes its symbols into a file beside the packages; gives what is left, and says its size.
    fn program(&self) -> Result<PathBuf, Failure> {
        done(
            Command::new("cargo")
                .args(["build", "--release", "--package", "twinwedge"])
                .current_dir(&self.top),
        )?;
        let built = self.top.join("target/release/twinwedge");
        let symbols = self.out.join(format!("twinwedge-{}.debug", self.version));
        let program = self.out.join("twinwedge");
        done(Command::new("objcopy").arg("--only-keep-debug").arg(&built).arg(&symbols))?;
        done(
            Command::new("objcopy")
                .args(["--strip-unneeded", "--remove-section=.comment"])
                .arg(&built)
                .arg(&program),
        )?;
        let link = format!("--add-gnu-debuglink={}", symbols.display());
        done(Command::new("objcopy").arg(link).arg(&program))?;
        say(format_args!(
            "the program: {:.1} MB without symbols",
            fs::metadata(&program)?.len() as f64 / 1e6
        ));
        Ok(program)
    }

    /// Lays out everything that is installed, under a prefix.
    fn stage(&self, program: &Path, prefix: &Path) -> Result<(), Failure> {
        let share = prefix.join("share");
        copy(program, &prefix.join("bin/twinwedge"))?;
        write(&share.join("applications/twinwedge.desktop"), DESKTOP_ENTRY)?;
        write(&share.join("mime/packages/twinwedge.xml"), MIME)?;
        let metainfo = METAINFO.replace("@VERSION@", &self.version).replace("@DATE@", &self.day);
        write(&share.join("metainfo/org.example.twinwedge.metainfo.xml"), &metainfo)?;
        self.icons(&share.join("icons/hicolor"))?;
        let manual = self.out.join("manual");
        done(Command::new(program).args(["manual", "--out"]).arg(&manual))?;
        for entry in fs::read_dir(&manual)? {
            let path = entry?.path();
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            match name.as_str() {
                "twinwedge.bash" => copy(&path, &share.join("bash-completion/completions/twinwedge"))?,
                "_twinwedge" => copy(&path, &share.join("zsh/vendor-completions/_twinwedge"))?,
                "twinwedge.fish" => copy(&path, &share.join("fish/vendor_completions.d/twinwedge.fish"))?,
                page => {
                    let page = share.join("man/man1").join(page);
                    copy(&path, &page)?;
                    packed(&page)?;
                }
            }
        }
        let doc = share.join("doc/twinwedge");
        write(&doc.join("copyright"), COPYRIGHT)?;
        let Self { version, changelog_date, .. } = self;
        let changelog = format!(
            "twinwedge ({version}) unstable; urgency=medium\n\n  * Release {version}.\n\n -- {MAINTAINER}  {changelog_date}\n"
        );
        write(&doc.join("changelog"), &changelog)?;
        packed(&doc.join("changelog"))?;
        // Whatever the builder's own mask is.
        done(Command::new("chmod").args(["-R", "u=rwX,go=rX"]).arg(self.out.join("root")))
    }

    fn icons(&self, theme: &Path) -> Result<(), Failure> {
        let icons = self.top.join("icons");
        for edge in ICON_EDGES {
            let place = theme.join(format!("{edge}x{edge}/apps/twinwedge.png"));
            copy(&icons.join(format!("twinwedge-{edge}.png")), &place)?;
        }
        copy(&icons.join("twinwedge.svg"), &theme.join("scalable/apps/twinwedge.svg"))?;
        copy(&icons.join("twinwedge-symbolic.svg"), &theme.join("symbolic/apps/twinwedge-symbolic.svg"))?;
        copy(&icons.join("series.svg"), &theme.join("scalable/mimetypes/application-x-twinwedge.svg"))
    }

    /// The Debian package of what is laid out.
    fn debian(&self, root: &Path) -> Result<PathBuf, Failure> {
        let architecture = told(Command::new("dpkg").arg("--print-architecture"))?;
        // dpkg-shlibdeps wants a source tree around the program.
        let source = self.out.join("source");
        write(
            &source.join("debian/control"),
            "Source: twinwedge\n\nPackage: twinwedge\nArchitecture: any\n",
        )?;
        let linked = told(
            Command::new("dpkg-shlibdeps")
                .args(["-O", "-e"])
                .arg(root.join("usr/bin/twinwedge"))
                .current_dir(&source),
        )?;
        let linked = linked.strip_prefix("shlibs:Depends=").ok_or("dpkg-shlibdeps names no libraries")?;
        let size = kibibytes(&root.join("usr"))?;
        let control = format!(
            "Package: twinwedge\nVersion: {}\nArchitecture: {architecture}\nMaintainer: {MAINTAINER}\nInstalled-Size: {size}\n\
             Depends: {linked}, {LOADED_AT_START}\nRecommends: xdg-desktop-portal, libgl1-mesa-dri, libwayland-client0\n\
             Section: graphics\nPriority: optional\nDescription: {DESCRIPTION}\n",
            self.version
        );
        write(&root.join("DEBIAN/control"), &control)?;
        let sums = told(
            Command::new("sh")
                .args(["-c", "find usr -type f | LC_ALL=C sort | xargs md5sum"])
                .current_dir(root),
        )?;
        write(&root.join("DEBIAN/md5sums"), &format!("{sums}\n"))?;
        let deb = self.out.join(format!("twinwedge_{}_{architecture}.deb", self.version));
        done(Command::new("dpkg-deb").args(["--root-owner-group", "-Zxz", "--build"]).arg(root).arg(&deb))?;
        Ok(deb)
    }

    /// The same under a folder of its own, to be unpacked into `/usr/local`, `~/.local` or anywhere.
    fn archive(&self, prefix: &Path) -> Result<PathBuf, Failure> {
        let name = format!("twinwedge-{}", self.version);
        let archive = self.out.join(format!("{name}-{}-linux.tar.xz", std::env::consts::ARCH));
        let parent = prefix.parent().ok_or("nothing is laid out")?;
        done(
            Command::new("tar")
                .args(["--sort=name", "--owner=0", "--group=0", "--numeric-owner", "-cJf"])
                .arg(&archive)
                .args([
                    format!("--mtime={}", self.day),
                    format!("--transform=s,^usr,{name},"),
                    "-C".to_owned(),
                ])
                .arg(parent)
                .arg("usr"),
        )?;
        Ok(archive)
    }
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    fs::create_dir_all(path.parent().unwrap_or(path))?;
    fs::write(path, text)?;
    Ok(())
}

/// Copies a file, making the folders above it.
fn copy(from: &Path, to: &Path) -> Result<(), Failure> {
    fs::create_dir_all(to.parent().unwrap_or(to))?;
    fs::copy(from, to).map_err(|error| format!("{}: {error}", from.display()))?;
    Ok(())
}

/// Packs a file as manual pages and changelogs are packed, without name and time.
fn packed(path: &Path) -> Result<(), Failure> {
    done(Command::new("gzip").arg("-9n").arg(path))
}

fn kibibytes(folder: &Path) -> Result<u64, Failure> {
    let text = told(Command::new("du").args(["-sk", "--apparent-size"]).arg(folder))?;
    Ok(text.split_whitespace().next().ok_or("du told no size")?.parse()?)
}

fn done(command: &mut Command) -> Result<(), Failure> {
    let status = command.status().map_err(|error| missing(command, &error))?;
    if status.success() { Ok(()) } else { Err(format!("{} failed", command.get_program().display()).into()) }
}

/// What a command printed, without the ends of lines around it.
fn told(command: &mut Command) -> Result<String, Failure> {
    let output = command.output().map_err(|error| missing(command, &error))?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        return Err(format!("{}: {said}", command.get_program().display()).into());
    }
    Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
}

fn missing(command: &Command, error: &std::io::Error) -> Failure {
    format!("{}: {error}; `.ci/package` installs what is needed", command.get_program().display()).into()
}

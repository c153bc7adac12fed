//! What a folder would bring into the series, and what a person has to settle first.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use twinwedge_core::document::Series;
use twinwedge_core::found::Found;
use twinwedge_core::geometry::Point;
use twinwedge_core::problem::Problem;
use twinwedge_core::words::Sentence;

use super::kinds::{Kind, sure};
use super::names::words;
use super::placing::Placed;
use super::{List, Sighted, TableSaid, beside, films};
use crate::import::ListRow;
use crate::store::paths;

/// A very small picture of a scan, 8-bit grey, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thumb {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// `width * height` greys.
    pub grey: Vec<u8>,
}

/// One file of the folder.
#[derive(Debug, Clone, PartialEq)]
pub struct File {
    /// Where it is.
    pub path: PathBuf,
    /// The same relative to the folder.
    pub shown: String,
    /// What it is taken for.
    pub kind: Found<Kind>,
    /// Its film, by label; none where it belongs to no film or none is known.
    pub film: Found<Option<String>>,
    /// Doubts that other files of the folder or the series give rise to.
    pub beside: Vec<String>,
    /// It is a scan, not a table.
    pub scan: bool,
    /// Steps told apart in it or densities that it holds.
    pub steps: Option<usize>,
    /// Where its steps lie.
    pub(super) placed: Option<Placed>,
    /// What it looks like.
    pub thumb: Option<Thumb>,
    /// Why it cannot be read.
    pub problem: Option<Problem>,
    /// A person has said that it is right.
    pub settled: bool,
    /// The row of the folder's list that names it.
    pub(super) listed: Option<usize>,
    /// What its name and its table say beside that.
    pub(super) said: Said,
    /// What speaks against it beside the other files of the folder.
    against: Vec<String>,
    /// The exposure index that a frame was metered at: as its name, a list or a person says.
    pub exposure_index: Option<f64>,
}

/// What names and tables say of a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Said {
    pub(super) printed: bool,
    pub(super) reference: bool,
    /// Minutes of development.
    pub(super) minutes: Option<u32>,
    /// Degrees Celsius of development.
    pub(super) celsius: Option<u32>,
    /// Seconds of the exposure through the tablet.
    pub(super) seconds: Option<f64>,
    /// Which of several tablets.
    pub(super) tablet: Option<char>,
    pub(super) table: TableSaid,
}

/// What a doubt asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Asked {
    /// The file cannot be read: nothing can be chosen, only known.
    Unreadable,
    /// The exposure index that a frame was metered at: without it the frame is left out.
    Index,
    /// Which film it belongs to.
    Film,
    /// What it is.
    Kind,
    /// Which of several files of one film is meant.
    Which,
    /// Where its steps lie.
    Where,
    /// Whether it is right although it does not go with the other files.
    Odd,
}

/// Files with doubts of the same kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// What is asked.
    pub asked: Asked,
    /// What all of them are taken for.
    pub kind: Kind,
    /// The steps of all of them, where it is asked where these lie.
    pub steps: Option<usize>,
    /// Indices of the files.
    pub files: Vec<usize>,
}

impl Group {
    /// Whether all of them can be right as they stand.
    #[must_use]
    pub fn may_be_right(&self) -> bool {
        !matches!(self.asked, Asked::Unreadable | Asked::Index)
    }
}

/// What is said of a frame of which nothing says it.
const NO_INDEX: &str =
    "Nothing says the exposure index that it was metered at: type it, or the frame is left out.";

impl File {
    /// It is a frame, and its exposure index is not known.
    #[must_use]
    pub fn lacks_index(&self) -> bool {
        self.kind.value == Kind::Frame && self.exposure_index.is_none()
    }

    /// Where its steps lie in the scan's pixels, as they were found: corners from the first step on, along it and back.
    #[must_use]
    pub fn corners(&self) -> Option<[Point; 4]> {
        let placed = self.placed.as_ref().filter(|placed| placed.found() && self.kind.value.stepped())?;
        Some(placed.quad(self.kind.value, placed.steps).0.corners)
    }

    /// What speaks against what it is taken for, each a sentence.
    pub fn doubts(&self) -> impl Iterator<Item = String> {
        let open = if self.settled { 0 } else { usize::MAX };
        let film = if self.kind.value.of_film() { self.film.doubts.as_slice() } else { &[] };
        let steps = self.placed.as_ref().filter(|_| self.kind.value.stepped());
        let steps = steps.map_or(&[][..], |placed| placed.doubts.as_slice());
        let doubts = self.kind.doubts.iter().chain(film).map(Sentence::to_string);
        let doubts = doubts.chain(self.beside.iter().chain(&self.against).map(ToString::to_string));
        let doubts = doubts.chain(steps.iter().map(Sentence::to_string));
        // What is lacking is not settled by saying that it is right.
        let lacking = self.lacks_index().then(|| NO_INDEX.to_owned());
        lacking.into_iter().chain(doubts.take(open))
    }

    /// Whether a person should look at it.
    #[must_use]
    pub fn doubtful(&self) -> bool {
        self.doubts().next().is_some()
    }

    fn asked(&self) -> Asked {
        if self.problem.is_some() {
            Asked::Unreadable
        } else if self.lacks_index() {
            Asked::Index
        } else if !self.kind.doubts.is_empty() {
            Asked::Kind
        } else if self.kind.value.of_film() && !self.film.doubts.is_empty() {
            Asked::Film
        } else if !self.against.is_empty() {
            Asked::Odd
        } else if !self.beside.is_empty() {
            Asked::Which
        } else {
            Asked::Where
        }
    }
}

/// What a folder would bring into a series.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The folder that was walked through.
    pub folder: PathBuf,
    /// Its scans and tables.
    pub files: Vec<File>,
    /// The reference film by its label; doubtful where nothing says which.
    pub reference: Found<Option<String>>,
    /// What else is to be told: about the list of the folder.
    pub notes: Vec<Problem>,
    pub(super) list: Vec<ListRow>,
    /// Labels of the series' films with what they have.
    known: BTreeMap<String, Has>,
}

/// What a film of the series has already.
#[derive(Debug, Clone, Copy)]
struct Has {
    strip: bool,
    print: bool,
    grain: bool,
}

impl Plan {
    pub(super) fn of(
        folder: &Path,
        sighted: Vec<Sighted>,
        list: List,
        series: &Series,
        series_folder: &Path,
    ) -> Self {
        let found = {
            let files: Vec<films::File<'_>> = sighted.iter().map(parts).collect();
            films::films(&files, series)
        };
        let mut files: Vec<File> =
            sighted.into_iter().zip(found).map(|(file, film)| with_film(file, film)).collect();
        let there: Vec<PathBuf> =
            series.scans.values().map(|entry| paths::absolute(series_folder, &entry.path)).collect();
        let there: std::collections::HashSet<&PathBuf> = there.iter().collect();
        for file in &mut files {
            let tablet = || twinwedge_core::document::TabletId(paths::relative(series_folder, &file.path));
            if there.contains(&paths::absolute(&file.path, ""))
                || (file.kind.value == Kind::Tablet && series.tablets.contains_key(&tablet()))
            {
                file.kind = sure(Kind::Other);
                file.film = sure(None);
            }
        }
        let has = |film: &twinwedge_core::document::Film| Has {
            strip: !film.strips.is_empty(),
            print: film.print.is_some(),
            grain: !film.uniform_areas.is_empty(),
        };
        let known = series.films.iter().map(|film| (film.label.clone(), has(film))).collect();
        let reference = sure(series.reference_film().map(|film| film.label.clone()));
        let mut plan = Self {
            folder: folder.to_path_buf(),
            files,
            reference,
            notes: Vec::new(),
            list: Vec::new(),
            known,
        };
        plan.follow_list(list);
        for (index, doubt) in beside::against(&plan.files) {
            plan.files[index].against.push(doubt);
        }
        plan.notes.extend(beside::compared(folder, &plan.files));
        plan.settle();
        plan
    }

    /// What the folder's list says goes before what was recognised.
    fn follow_list(&mut self, list: List) {
        let Some((index, rows)) = list else { return };
        let rows = match rows {
            Ok(rows) => rows,
            Err(problem) => {
                let file = &mut self.files[index];
                let doubt = format!(
                    "The list cannot be used, and the files are recognised without it: {} {}",
                    problem.cause, problem.remedy
                );
                file.kind.doubts.push(doubt.into());
                file.problem = Some(problem);
                return;
            }
        };
        let base = Path::new(&self.files[index].shown).parent().map(Path::to_path_buf).unwrap_or_default();
        let base = self.folder.join(base);
        let by_path: HashMap<PathBuf, usize> = self
            .files
            .iter()
            .enumerate()
            .map(|(index, file)| (paths::absolute(&file.path, ""), index))
            .collect();
        for (number, row) in rows.iter().enumerate() {
            let place = by_path.get(&paths::absolute(&base, row.get("file")));
            let Some(file) = place.map(|index| &mut self.files[*index]) else {
                self.notes.push(Problem::doubt(
                    twinwedge_core::problem::Subject::File {
                        path: self.files[index].shown.clone(),
                        place: Some(format!("row {}", number + 1)),
                    },
                    format!("It names '{}', which is not in the folder.", row.get("file")),
                    "Correct the list, or go on without this file.",
                ));
                continue;
            };
            // A file that cannot be read is no less so for being listed.
            if file.problem.is_some() {
                continue;
            }
            let kind = match (row.get("kind"), row.get("seen")) {
                ("tablet", _) => Kind::Tablet,
                ("calibration", "print") => Kind::CalibrationPrint,
                ("calibration", _) => Kind::CalibrationFilm,
                ("readings", _) => Kind::Readings,
                ("strip", _) => Kind::Strip,
                ("print", _) => Kind::Print,
                ("grain", _) => Kind::Grain,
                ("edge", _) => Kind::Edge,
                ("frame", _) => Kind::Frame,
                _ => Kind::Paper,
            };
            let shows_other = !file.kind.doubts.is_empty() && file.kind.value != kind && file.scan;
            let doubt =
                format!("The list says '{}', but it looks like: {}.", kind.words(), file.kind.value.words());
            file.kind =
                Found { doubts: shows_other.then_some(doubt.into()).into_iter().collect(), ..sure(kind) };
            let film = row.get("film");
            file.film = sure(kind.of_film().then(|| film.to_owned()));
            file.said.reference |= row.get("role") == "reference";
            file.exposure_index = positive(row.get("exposure_index").parse().ok()).or(file.exposure_index);
            file.listed = Some(number);
        }
        // A list says what is wanted: files that it does not name are left out.
        for file in self.files.iter_mut().filter(|file| file.listed.is_none() && file.problem.is_none()) {
            file.kind = sure(if file.kind.value == Kind::List { Kind::List } else { Kind::Other });
            file.film = sure(None);
        }
        self.list = rows;
    }

    /// Finds anew what files give each other to doubt, and the reference; after every change.
    fn settle(&mut self) {
        // Of frames a film has one at each exposure index.
        let mut seen: HashMap<(String, Kind, Option<u64>), usize> = HashMap::new();
        let scanned: std::collections::HashSet<String> = self
            .files
            .iter()
            .filter(|file| file.kind.value == Kind::Strip)
            .filter_map(|file| file.film.value.clone())
            .collect();
        let mut twice: Vec<(usize, usize)> = Vec::new();
        for index in 0..self.files.len() {
            self.files[index].beside.clear();
            let (kind, film) = (self.files[index].kind.value, self.files[index].film.value.clone());
            let Some(film) = film.filter(|_| kind.of_film()) else { continue };
            let listed = self.files[index].listed.is_some();
            let file = &self.files[index];
            let index_of = file.exposure_index.filter(|_| kind == Kind::Frame).map(f64::to_bits);
            let place = (film.clone(), kind, index_of);
            if kind == Kind::Frame && (listed || index_of.is_none()) {
                // A list may have two frames at one index; of some it may not be known yet.
            } else if !kind.taken() || (kind == Kind::Readings && scanned.contains(&film) && !listed) {
                // What is not taken in may be there twice.
            } else if let Some(first) = seen.get(&place) {
                twice.push((*first, index));
            } else {
                seen.insert(place, index);
            }
            let has = self.known.get(&film).copied();
            let beside = match kind {
                // They were compared with the scan, which is taken.
                Kind::Readings if scanned.contains(&film) && !listed => None,
                Kind::Readings | Kind::Strip if has.is_some_and(|has| has.strip) => Some(format!(
                    "{film} has readings in the series: this is taken as an additional strip of the same roll."
                )),
                Kind::Print if has.is_some_and(|has| has.print) => {
                    Some(format!("{film} has a print in the series, in whose place this one comes."))
                }
                Kind::Grain if has.is_some_and(|has| has.grain) => {
                    Some(format!("{film} has a uniform area in the series, in whose place this one comes."))
                }
                _ => None,
            };
            self.files[index].beside.extend(beside);
        }
        for (first, index) in twice {
            let kind = self.files[index].kind.value;
            let (shown, listed) = (self.files[first].shown.clone(), self.files[index].listed.is_some());
            let other = self.files[index].shown.clone();
            if kind == Kind::Frame {
                let doubt = format!("{shown} is a frame at the same exposure index: both are taken.");
                self.files[index].beside.push(doubt);
            } else if kind == Kind::Strip || kind == Kind::Readings {
                // Names that give each its own time of exposure say that there are two.
                let times = (self.files[first].said.seconds, self.files[index].said.seconds);
                let told = matches!(times, (Some(a), Some(b)) if (a / b - 1.0).abs() > 0.1);
                if !listed && !told {
                    let doubt =
                        format!("Beside {shown} it is taken as an additional strip of the same roll.");
                    self.files[index].beside.push(doubt);
                }
            } else {
                let doubt =
                    format!("{shown} is taken in its place, for a film has one: this one is left out.");
                self.files[index].beside.push(doubt);
                self.files[first].beside.push(format!("{other} seems to be the same of this film."));
            }
        }
        self.choose_reference();
    }

    fn choose_reference(&mut self) {
        if self.reference.value.is_some() && self.reference.is_sure() {
            return;
        }
        let of_film = |file: &&File| file.kind.value.of_film() && file.film.value.is_some();
        let said = self.files.iter().filter(of_film).find(|file| file.said.reference);
        if let Some(said) = said {
            self.reference = sure(said.film.value.clone());
            return;
        }
        let films = self.films();
        let certain = |film: &&String| {
            self.files.iter().any(|file| file.film.value.as_ref() == Some(film) && file.film.is_sure())
        };
        let first = films.iter().find(certain).or(films.first()).cloned();
        let value = self.reference.value.take().filter(|film| films.contains(film)).or(first);
        let doubts = if value.is_some() && films.len() > 1 {
            vec!["No name says which film is the reference; the first is taken.".into()]
        } else {
            Vec::new()
        };
        self.reference = Found { value, support: 0.3, doubts };
    }

    /// Labels of all films that files are taken for, and of those in the series, in the order of their names.
    #[must_use]
    pub fn films(&self) -> Vec<String> {
        let of_files = self
            .files
            .iter()
            .filter(|file| file.kind.value.of_film())
            .filter_map(|file| file.film.value.clone());
        let mut films: Vec<String> = of_files.chain(self.known.keys().cloned()).collect();
        films.sort_by_cached_key(|label| {
            words(label)
                .into_iter()
                .map(|word| (word.number().unwrap_or(0), word.text))
                .map(|(n, t)| if n > 0 { (n, String::new()) } else { (0, t) })
                .collect::<Vec<_>>()
        });
        films.dedup();
        films
    }

    /// Doubtful files, those with doubts of one kind together; what cannot be read first.
    #[must_use]
    pub fn groups(&self) -> Vec<Group> {
        let mut groups: BTreeMap<(Asked, Kind, Option<usize>), Vec<usize>> = BTreeMap::new();
        for (index, file) in self.files.iter().enumerate().filter(|(_, file)| file.doubtful()) {
            let asked = file.asked();
            let steps = file.steps.filter(|_| asked == Asked::Where);
            groups.entry((asked, file.kind.value, steps)).or_default().push(index);
        }
        let group = |((asked, kind, steps), files)| Group { asked, kind, steps, files };
        groups.into_iter().map(group).collect()
    }

    /// What is asked of a group of doubtful files, once for all of them.
    #[must_use]
    pub fn question(&self, group: &Group) -> String {
        let count = group.files.len();
        let files = if count == 1 { "1 file".to_owned() } else { format!("{count} files") };
        let these = match count {
            1 => format!("This {}", group.kind.words()),
            _ => format!("These {count} {}", group.kind.several()),
        };
        match group.asked {
            Asked::Unreadable => format!("Cannot be read: {files}"),
            Asked::Index => format!("Which exposure index? {files}: {}", group.kind.words()),
            Asked::Film => format!("Which film? {files}: {}", group.kind.words()),
            Asked::Kind if group.kind == Kind::Other => {
                format!("What is it? {files}, left out as it stands")
            }
            Asked::Kind => format!("What is it? {files} taken for: {}", group.kind.words()),
            Asked::Where => match group.steps {
                Some(steps) => format!("{these}: {steps} steps{}?", self.tablet_of(steps)),
                None => format!("Where are the steps? {files}: {}", group.kind.words()),
            },
            Asked::Odd => format!("{these}: right, although not like the others?"),
            Asked::Which => format!("Which of them? {files}: {}", group.kind.words()),
        }
    }

    /// ' of NAME', if one tablet of the folder has so many steps.
    fn tablet_of(&self, steps: usize) -> String {
        let tablets = self.files.iter().filter(|file| file.kind.value == Kind::Tablet);
        let mut tablets = tablets.filter(|file| file.steps == Some(steps));
        match (tablets.next(), tablets.next()) {
            (Some(only), None) => {
                let stem = only.path.file_stem().unwrap_or_default().to_string_lossy();
                format!(" of {stem}")
            }
            _ => String::new(),
        }
    }

    /// Files that would be taken in and in whose case nothing is doubtful.
    #[must_use]
    pub fn sure(&self) -> Vec<usize> {
        let files = self.files.iter().enumerate();
        files
            .filter(|(_, file)| !file.doubtful() && file.kind.value.taken())
            .map(|(index, _)| index)
            .collect()
    }

    /// Files that are left out, and no doubt about it.
    #[must_use]
    pub fn left_out(&self) -> Vec<usize> {
        let files = self.files.iter().enumerate();
        files
            .filter(|(_, file)| !file.doubtful() && !file.kind.value.taken())
            .map(|(index, _)| index)
            .collect()
    }

    /// How many files would be taken in as things stand.
    #[must_use]
    pub fn taken(&self) -> usize {
        self.takes().len()
    }

    /// Says what a file is.
    pub fn set_kind(&mut self, file: usize, kind: Kind) {
        if let Some(file) = self.files.get_mut(file) {
            file.kind = sure(kind);
            file.listed = None;
            if kind.of_film() && file.film.value.is_none() && file.film.doubts.is_empty() {
                file.film.doubts.push("It is not known which film it belongs to.".into());
            }
        }
        self.settle();
    }

    /// Says which film a file belongs to; files that were taken for the same film with the same doubt go with it.
    pub fn set_film(&mut self, file: usize, film: &str) {
        let Some(like) = self.files.get(file).map(|file| file.film.clone()) else { return };
        for (index, other) in self.files.iter_mut().enumerate() {
            if index == file || (other.film == like && !like.is_sure() && like.value.is_some()) {
                other.film = sure(Some(film.to_owned()));
                other.listed = None;
            }
        }
        self.settle();
    }

    /// Says the exposure index that a frame was metered at; one that is not above zero is none.
    pub fn set_exposure_index(&mut self, file: usize, index: Option<f64>) {
        if let Some(file) = self.files.get_mut(file) {
            file.exposure_index = positive(index);
        }
        self.settle();
    }

    /// Says that files are what they are taken for.
    pub fn confirm(&mut self, files: &[usize]) {
        for index in files {
            if let Some(file) = self.files.get_mut(*index) {
                file.settled = true;
            }
        }
        self.settle();
    }

    /// Says which film is the reference.
    pub fn set_reference(&mut self, film: &str) {
        self.reference = sure(Some(film.to_owned()));
    }

    /// Whether the series has this film already.
    #[must_use]
    pub fn knows(&self, film: &str) -> bool {
        self.known.contains_key(film)
    }

    /// The files that become part of the series: of each film one print and one uniform area, and readings only where no strip
    /// was scanned.
    pub(super) fn takes(&self) -> Vec<usize> {
        let mut once: std::collections::HashSet<(&str, Kind)> = std::collections::HashSet::new();
        let scanned: std::collections::HashSet<&str> = self
            .files
            .iter()
            .filter(|file| file.kind.value == Kind::Strip)
            .filter_map(|file| file.film.value.as_deref())
            .collect();
        let mut takes = Vec::new();
        for (index, file) in self.files.iter().enumerate() {
            let kind = file.kind.value;
            if !kind.taken() || file.problem.is_some() || file.lacks_index() {
                continue;
            }
            if kind.of_film() {
                let Some(film) = file.film.value.as_deref() else { continue };
                let single = matches!(kind, Kind::Print | Kind::Grain) && !once.insert((film, kind));
                let doubled = kind == Kind::Readings && file.listed.is_none() && scanned.contains(film);
                if single || doubled {
                    continue;
                }
            }
            takes.push(index);
        }
        takes
    }
}

fn positive(index: Option<f64>) -> Option<f64> {
    index.filter(|index| index.is_finite() && *index > 0.0)
}

fn parts(file: &Sighted) -> films::File<'_> {
    let mut folders: Vec<&str> = file.shown.split('/').collect();
    folders.pop();
    let stem = file.path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let mut path = words(&stem);
    path.extend(folders.iter().flat_map(|folder| words(folder)));
    films::File {
        name: &file.name,
        path,
        folder: super::names::folder_words(&folders),
        kind: file.kind.value,
        belongs: belongs(file),
    }
}

/// Whether a film is looked for: also where it is not known what the file is. Records and times may be of one film or of all.
fn belongs(file: &Sighted) -> bool {
    let of_one = matches!(file.kind.value, Kind::Record | Kind::Exposures) && file.name.has_letters();
    file.kind.value.of_film() || of_one || (file.kind.value == Kind::Other && !file.kind.is_sure())
}

fn with_film(file: Sighted, film: Found<Option<String>>) -> File {
    let Sighted { path, shown, name, kind, scan, steps, placed, table, thumb, problem, .. } = file;
    let seconds = name.seconds.map(|(over, under)| f64::from(over) / f64::from(under));
    let said = Said {
        printed: name.printed,
        reference: name.reference,
        minutes: name.minutes,
        celsius: name.celsius,
        seconds,
        tablet: name.tablet,
        table,
    };
    File {
        path,
        shown,
        kind,
        film,
        beside: Vec::new(),
        scan,
        steps,
        placed,
        thumb,
        problem,
        settled: false,
        listed: None,
        said,
        against: Vec::new(),
        exposure_index: positive(name.exposure_index.map(f64::from)),
    }
}

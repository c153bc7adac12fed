//! Files to films by their names: equal words are one film; what is nearly equal is asked about.

use std::collections::{BTreeMap, BTreeSet};

use twinwedge_core::document::Series;
use twinwedge_core::found::Found;
use twinwedge_core::words::Sentence;

use super::kinds::{Kind, sure};
use super::names::{Name, Word, label, words};

/// The film that a file belongs to, by its label; none for what belongs to no film.
pub(super) type OfFilm = Found<Option<String>>;

/// What is known of one file before films are told.
#[derive(Debug)]
pub(super) struct File<'a> {
    /// Its name, read.
    pub(super) name: &'a Name,
    /// All words of its path.
    pub(super) path: Vec<Word>,
    /// Words of the innermost folder that names anything.
    pub(super) folder: Vec<Word>,
    /// What the file is taken for.
    pub(super) kind: Kind,
    /// It belongs to a film, or may.
    pub(super) belongs: bool,
}

/// The film of each file.
pub(super) fn films(files: &[File<'_>], series: &Series) -> Vec<OfFilm> {
    let known = Known::of(series);
    let mut found: Vec<Option<OfFilm>> =
        files.iter().map(|file| known.film_of(&file.path).map(sure)).collect();
    let mut keys = Keys::of(files, &found);
    keys.settle_times();
    keys.drop_shared_words();
    keys.take_counters();
    keys.join_beginnings(files);
    let labels = keys.labels();
    let near = keys.near(files);
    for (index, key) in &keys.of_file {
        let mut film = sure(Some(labels[key].clone()));
        film.doubts.extend(keys.doubts.get(index).cloned().map(Sentence::from));
        film.doubts.extend(keys.any_of.get(key).cloned().map(Sentence::from));
        if let Some(other) = near.get(key) {
            let (own, other) = (&labels[key], &labels[other]);
            film.doubts.push(format!("'{own}' is taken for the film named '{other}' elsewhere.").into());
            film.value = Some(other.clone());
        }
        if !key.letters() {
            let doubt = format!("Its name has no words for the film; '{}' is all there is.", label(&key.0));
            film.doubts.push(doubt.into());
        }
        if !film.doubts.is_empty() {
            film.support = 0.4;
        }
        found[*index] = Some(film);
    }
    let of = |(found, file): (Option<OfFilm>, &File<'_>)| {
        let nothing = || Found {
            value: None,
            support: 0.0,
            doubts: vec!["Its name has no words for the film it belongs to.".into()],
        };
        if file.belongs { found.unwrap_or_else(nothing) } else { sure(None) }
    };
    found.into_iter().zip(files).map(of).collect()
}

/// The films of the series by the words of their labels, the longest first.
struct Known(Vec<(Vec<String>, String)>);

impl Known {
    fn of(series: &Series) -> Self {
        let texts = |text: &str| words(text).into_iter().map(|word| word.text).collect::<Vec<_>>();
        let mut known: Vec<(Vec<String>, String)> = series
            .films
            .iter()
            .flat_map(|film| [(texts(&film.label), &film.label), (texts(&film.id.0), &film.label)])
            .filter(|(words, _)| !words.is_empty())
            .map(|(words, label)| (words, label.clone()))
            .collect();
        known.sort_by_key(|(words, _)| std::cmp::Reverse(words.len()));
        Self(known)
    }

    fn film_of(&self, path: &[Word]) -> Option<Option<String>> {
        let holds = |words: &[String]| {
            path.windows(words.len()).any(|part| part.iter().zip(words).all(|(a, b)| a.text == *b))
        };
        self.0.iter().find(|(words, _)| holds(words)).map(|(_, label)| Some(label.clone()))
    }
}

/// Which roll of a film: by its number, or by its time of development where rolls were developed for several.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Roll {
    number: Option<u32>,
    minutes: Option<u32>,
}

/// The words of a film as they tell it from others, and its roll.
#[derive(Debug, Clone)]
struct Key(Vec<Word>, Roll);

impl Key {
    fn texts(&self) -> Vec<&str> {
        self.0.iter().map(|word| word.text.as_str()).collect()
    }

    fn letters(&self) -> bool {
        self.0.iter().any(|word| word.number().is_none())
    }
}

// How words are written, and whether blanks part them, does not tell films apart.
impl PartialEq for Key {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Key {}
impl PartialOrd for Key {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Key {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (self.texts().concat(), self.1).cmp(&(other.texts().concat(), other.1))
    }
}

/// Every file's key, and what is doubtful about keys.
struct Keys {
    of_file: BTreeMap<usize, Key>,
    /// Of files whose key is not what their own names say.
    doubts: BTreeMap<usize, String>,
    /// Of keys that may be short for several others.
    any_of: BTreeMap<Key, String>,
}

impl Keys {
    fn of(files: &[File<'_>], found: &[Option<OfFilm>]) -> Self {
        let open = files.iter().enumerate().filter(|(index, file)| found[*index].is_none() && file.belongs);
        let mut of_file: BTreeMap<usize, Key> = open
            .filter(|(_, file)| !file.name.film.is_empty())
            .map(|(index, file)| (index, Key(file.name.film.clone(), roll(file.name))))
            .collect();
        let mut doubts = BTreeMap::new();
        prefer_folders(files, &mut of_file, &mut doubts);
        Self { of_file, doubts, any_of: BTreeMap::new() }
    }

    /// Times of development tell rolls apart only where a film has several.
    fn settle_times(&mut self) {
        let mut times: BTreeMap<String, BTreeSet<u32>> = BTreeMap::new();
        for key in self.of_file.values() {
            times.entry(key.texts().concat()).or_default().extend(key.1.minutes);
        }
        for (index, key) in &mut self.of_file {
            match (times.get(&key.texts().concat()).map_or(0, BTreeSet::len), key.1.minutes) {
                (0 | 1, _) => key.1.minutes = None,
                (_, None) => {
                    let doubt = "Rolls of its film were developed for several times, and its name says none.";
                    self.doubts.insert(*index, doubt.to_owned());
                }
                _ => {}
            }
        }
    }

    fn distinct(&self) -> BTreeSet<&Key> {
        self.of_file.values().collect()
    }

    fn members(&self, key: &Key) -> Vec<usize> {
        self.of_file.iter().filter(|(_, other)| *other == key).map(|(index, _)| *index).collect()
    }

    fn kinds(&self, files: &[File<'_>], key: &Key) -> BTreeSet<Kind> {
        self.members(key).into_iter().map(|index| files[index].kind).collect()
    }

    fn change(&mut self, old: &Key, new: &Key, doubt: Option<&str>) {
        for (index, key) in self.of_file.iter_mut().filter(|(_, key)| *key == old) {
            *key = new.clone();
            if let Some(doubt) = doubt {
                self.doubts.insert(*index, doubt.to_owned());
            }
        }
    }

    /// Words that every name begins or ends with say nothing of the film.
    fn drop_shared_words(&mut self) {
        loop {
            let keys = self.distinct();
            if keys.len() < 2 {
                return;
            }
            let without = |last: bool| -> Option<Vec<(Key, Key)>> {
                let word = |key: &Key| if last { key.0.last().cloned() } else { key.0.first().cloned() };
                let shared = keys.iter().next().and_then(|key| word(key))?;
                let cut = |key: &&Key| {
                    let rest = if last { &key.0[..key.0.len().saturating_sub(1)] } else { key.0.get(1..)? };
                    let short = Key(rest.to_vec(), key.1);
                    let fits = word(key)?.text == shared.text && short.letters();
                    fits.then(|| ((*key).clone(), short))
                };
                keys.iter().map(cut).collect()
            };
            let Some(changes) = without(false).or_else(|| without(true)) else { return };
            for (old, new) in changes {
                self.change(&old, &new, None);
            }
        }
    }

    /// Numbers that run on from file to file count frames: 'tern 1', 'tern 2', 'tern 3'.
    fn take_counters(&mut self) {
        let mut by_parent: BTreeMap<Key, Vec<(u32, Key)>> = BTreeMap::new();
        for key in self.distinct() {
            if let Some((last, parent)) = key.0.split_last()
                && let (Some(number), false) = (last.number(), parent.is_empty())
            {
                by_parent.entry(Key(parent.to_vec(), key.1)).or_default().push((number, key.clone()));
            }
        }
        for (parent, mut numbered) in by_parent {
            numbered.sort_by_key(|(number, _)| *number);
            let once = numbered.iter().all(|(_, key)| self.members(key).len() == 1);
            let running = numbered.windows(2).all(|pair| pair[1].0 - pair[0].0 == 1);
            let there = self.distinct().contains(&parent);
            let counts = parent.letters()
                && once
                && ((numbered.len() > 1 && running && numbered[0].0 < 100) || (there && numbered[0].0 < 100));
            if counts {
                let doubt = format!(
                    "Its last number is taken for a count of files of '{}', not for another film.",
                    label(&parent.0)
                );
                for (_, key) in &numbered {
                    self.change(key, &parent, Some(&doubt));
                }
            }
        }
    }

    /// 'tern' beside 'tern 160', 'tern 160 prnt' in the folder 'tern 160': the same film where one has what the other lacks.
    fn join_beginnings(&mut self, files: &[File<'_>]) {
        let keys: Vec<Key> = self.distinct().into_iter().cloned().collect();
        for short in &keys {
            let longer: Vec<&Key> = keys
                .iter()
                .filter(|long| {
                    long.1 == short.1
                        && long.0.len() > short.0.len()
                        && long.texts().starts_with(&short.texts())
                })
                .collect();
            let name = label(&short.0);
            match longer.as_slice() {
                [] => {}
                [long] => {
                    let (mine, others) = (self.kinds(files, short), self.kinds(files, long));
                    if mine.is_disjoint(&others) {
                        let doubt =
                            format!("Files named '{name}' and '{}' are taken for one film.", label(&long.0));
                        // Where their folder says the shorter, what the longer has more of is not the film's.
                        let inside = |index: &usize| {
                            files[*index].folder.iter().map(|word| word.text.as_str()).eq(short.texts())
                        };
                        let (from, to) = if self.members(long).iter().all(inside) {
                            (*long, short)
                        } else {
                            (short, *long)
                        };
                        self.change(from, to, Some(&doubt));
                    }
                }
                several => {
                    let names: Vec<String> =
                        several.iter().map(|key| format!("'{}'", label(&key.0))).collect();
                    let doubt = format!("'{name}' may be any of {}.", names.join(", "));
                    self.any_of.insert(short.clone(), doubt);
                }
            }
        }
    }

    /// Keys that differ by a letter or two from one that has more files.
    fn near(&self, files: &[File<'_>]) -> BTreeMap<Key, Key> {
        let keys: Vec<(&Key, usize, BTreeSet<Kind>)> = self
            .distinct()
            .into_iter()
            .map(|key| (key, self.members(key).len(), self.kinds(files, key)))
            .collect();
        let mut near = BTreeMap::new();
        for (key, count, kinds) in &keys {
            let like = keys.iter().find(|(other, theirs, their_kinds)| {
                (theirs > count || (theirs == count && other < key))
                    && their_kinds.is_disjoint(kinds)
                    && alike(key, other)
            });
            if let Some((other, ..)) = like {
                near.insert((*key).clone(), (*other).clone());
            }
        }
        near
    }

    /// A label for each key: the way of writing that most of its files have; rolls by their number.
    fn labels(&self) -> BTreeMap<Key, String> {
        let rolls = self.rolls();
        let mut labels = BTreeMap::new();
        for key in self.distinct() {
            let mut ways: BTreeMap<String, usize> = BTreeMap::new();
            for other in self.of_file.values().filter(|other| *other == key) {
                *ways.entry(label(&other.0)).or_default() += 1;
            }
            let plain =
                ways.into_iter().max_by_key(|(_, count)| *count).map(|(way, _)| way).unwrap_or_default();
            // Files that name no roll go with the first.
            let rolls = rolls.get(&key.texts().concat());
            let first = rolls.and_then(|rolls| rolls.iter().filter_map(|roll| roll.number).min());
            let mut text = plain;
            if let Some(number) = key.1.number.filter(|number| Some(*number) != first) {
                text += &format!(", roll {number}");
            }
            if let Some(minutes) = key.1.minutes {
                text += &format!(", {minutes} min");
            }
            labels.insert(key.clone(), text);
        }
        labels
    }

    fn rolls(&self) -> BTreeMap<String, BTreeSet<Roll>> {
        let mut rolls: BTreeMap<String, BTreeSet<Roll>> = BTreeMap::new();
        for key in self.distinct() {
            rolls.entry(key.texts().concat()).or_default().insert(key.1);
        }
        rolls
    }
}

fn roll(name: &Name) -> Roll {
    Roll { number: name.roll, minutes: name.minutes }
}

/// In a folder that names a film, files whose own names differ from each other without pattern belong to the folder's film.
fn prefer_folders(
    files: &[File<'_>],
    of_file: &mut BTreeMap<usize, Key>,
    doubts: &mut BTreeMap<usize, String>,
) {
    let mut inside: BTreeMap<Vec<&str>, Vec<usize>> = BTreeMap::new();
    for index in of_file.keys() {
        let folder: Vec<&str> = files[*index].folder.iter().map(|word| word.text.as_str()).collect();
        if !folder.is_empty() {
            inside.entry(folder).or_default().push(*index);
        }
    }
    if inside.len() < 2 {
        return;
    }
    for indices in inside.values().filter(|indices| indices.len() > 1) {
        let own: BTreeSet<&Key> = indices.iter().filter_map(|index| of_file.get(index)).collect();
        let folder = Key(files[indices[0]].folder.clone(), Roll::default());
        let named = own.iter().any(|key| key.texts().concat() == folder.texts().concat());
        if own.len() < indices.len() || named {
            continue;
        }
        let doubt =
            format!("The names in the folder '{}' differ; all are taken for its film.", label(&folder.0));
        for index in indices {
            doubts.insert(*index, doubt.clone());
            let roll = of_file.get(index).map(|key| key.1).unwrap_or_default();
            of_file.insert(*index, Key(folder.0.clone(), roll));
        }
    }
}

/// Same numbers, and letters that differ by one (two in long words).
fn alike(a: &Key, b: &Key) -> bool {
    let numbers = |key: &Key| key.0.iter().filter_map(Word::number).collect::<Vec<_>>();
    let letters = |key: &Key| {
        key.0.iter().filter(|word| word.number().is_none()).map(|word| word.text.as_str()).collect::<String>()
    };
    let (first, second) = (letters(a), letters(b));
    let allowed = if first.chars().count() >= 8 { 2 } else { 1 };
    a.1 == b.1 && numbers(a) == numbers(b) && first.chars().count() > 3 && changes(&first, &second) <= allowed
}

/// Fewest letters to change, add, take away or turn round with their neighbour from one word to the other (F. J. Damerau 1964).
fn changes(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut table = vec![vec![0; b.len() + 1]; a.len() + 1];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            if i == 0 || j == 0 {
                table[i][j] = i + j;
                continue;
            }
            let changed = table[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut least = changed.min(table[i - 1][j] + 1).min(table[i][j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(table[i - 2][j - 2] + 1);
            }
            table[i][j] = least;
        }
    }
    table[a.len()][b.len()]
}

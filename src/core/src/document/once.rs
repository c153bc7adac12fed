//! Maps of which a file may name every key but once: a second entry would take the place of the first without a word.

use core::fmt;
use core::marker::PhantomData;
use std::collections::BTreeMap;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};

use crate::shown::Shown;

/// A key that is a name.
pub trait Name {
    /// The name as it is written.
    fn name(&self) -> &str;
}

impl Name for String {
    fn name(&self) -> &str {
        self
    }
}

/// Reads a map and refuses one in which a key stands twice.
///
/// # Errors
/// As the map's, or a key that stands twice.
pub fn each_once<'de, D, K, V>(deserializer: D) -> Result<BTreeMap<K, V>, D::Error>
where
    D: Deserializer<'de>,
    K: Deserialize<'de> + Ord + Name,
    V: Deserialize<'de>,
{
    struct Entries<K, V>(PhantomData<(K, V)>);

    impl<'de, K, V> Visitor<'de> for Entries<K, V>
    where
        K: Deserialize<'de> + Ord + Name,
        V: Deserialize<'de>,
    {
        type Value = BTreeMap<K, V>;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a map")
        }

        fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
            let mut map = BTreeMap::new();
            while let Some(key) = access.next_key::<K>()? {
                if map.contains_key(&key) {
                    return Err(Error::custom(format_args!("'{}' stands there twice", Shown(key.name()))));
                }
                map.insert(key, access.next_value()?);
            }
            Ok(map)
        }
    }

    deserializer.deserialize_map(Entries(PhantomData))
}

/// The same for a map of maps.
///
/// # Errors
/// As the maps', or a key of one of them that stands twice.
pub fn each_once_within<'de, D, K, V>(deserializer: D) -> Result<BTreeMap<K, BTreeMap<String, V>>, D::Error>
where
    D: Deserializer<'de>,
    K: Deserialize<'de> + Ord + Name,
    V: Deserialize<'de>,
{
    struct Inner<V>(BTreeMap<String, V>);

    impl<'de, V: Deserialize<'de>> Deserialize<'de> for Inner<V> {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            each_once(deserializer).map(Self)
        }
    }

    let maps: BTreeMap<K, Inner<V>> = each_once(deserializer)?;
    Ok(maps.into_iter().map(|(key, Inner(map))| (key, map)).collect())
}

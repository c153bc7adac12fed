//! Keys of derived results: a digest of what each was made from, down to the bits of its numbers.

use std::fmt::Display;

use serde::ser;
use serde::{Serialize, Serializer};

/// The digest of everything a result was made from, or of a result itself. Equal keys mean equal contents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key([u8; 32]);

impl Key {
    /// The key of a value: of any plain data. Numbers count by their bits, so that `0.1 + 0.2` is not `0.3`.
    #[must_use]
    pub fn of(value: &(impl Serialize + ?Sized)) -> Self {
        Self::weighed(value).0
    }

    /// The key of a value, and how many bytes it is made of.
    #[must_use]
    pub fn weighed(value: &(impl Serialize + ?Sized)) -> (Self, usize) {
        let mut feed = Feed { hasher: blake3::Hasher::new(), waiting: Vec::with_capacity(BLOCK), bytes: 0 };
        if value.serialize(&mut feed).is_err() {
            // No document or result type refuses to be written; if one ever does, it must not equal another.
            feed.update(b"not serialisable");
        }
        feed.hasher.update(&feed.waiting);
        (Self(*feed.hasher.finalize().as_bytes()), feed.bytes)
    }
}

impl Serialize for Key {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_bytes(&self.0)
    }
}

/// Bytes that are hashed at once: many numbers are faster together.
const BLOCK: usize = 16 << 10;

/// Feeds plain data into a digest, each value with a mark of its kind and each text and list with its length, so that
/// different data never give the same bytes.
struct Feed {
    hasher: blake3::Hasher,
    /// Not hashed yet.
    waiting: Vec<u8>,
    bytes: usize,
}

/// Writing into a digest cannot fail but by a type that refuses.
#[derive(Debug)]
struct Refused;

impl Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a value that cannot be serialised")
    }
}

impl std::error::Error for Refused {}

impl ser::Error for Refused {
    fn custom<T: Display>(_: T) -> Self {
        Self
    }
}

impl Feed {
    fn update(&mut self, bytes: &[u8]) {
        self.waiting.extend_from_slice(bytes);
        self.bytes += bytes.len();
        if self.waiting.len() >= BLOCK {
            self.hasher.update(&self.waiting);
            self.waiting.clear();
        }
    }

    fn mark(&mut self, mark: u8, bytes: &[u8]) -> Result<(), Refused> {
        self.update(&[mark]);
        self.update(bytes);
        Ok(())
    }

    fn open(&mut self, mark: u8, len: usize) -> Result<&mut Self, Refused> {
        self.mark(mark, &(len as u64).to_le_bytes())?;
        Ok(self)
    }
}

macro_rules! plain {
    ($($method:ident: $ty:ty = $mark:literal;)+) => {$(
        fn $method(self, v: $ty) -> Result<(), Refused> {
            self.mark($mark, &v.to_le_bytes())
        }
    )+};
}

impl Serializer for &mut Feed {
    type Ok = ();
    type Error = Refused;
    type SerializeSeq = Self;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Self;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    plain! {
        serialize_i8: i8 = b'a'; serialize_i16: i16 = b'b'; serialize_i32: i32 = b'c'; serialize_i64: i64 = b'd';
        serialize_u8: u8 = b'e'; serialize_u16: u16 = b'f'; serialize_u32: u32 = b'g'; serialize_u64: u64 = b'h';
        serialize_f32: f32 = b'i'; serialize_f64: f64 = b'j'; serialize_i128: i128 = b'y'; serialize_u128: u128 = b'z';
    }

    fn serialize_bool(self, v: bool) -> Result<(), Refused> {
        self.mark(b'k', &[u8::from(v)])
    }
    fn serialize_char(self, v: char) -> Result<(), Refused> {
        self.mark(b'l', &u32::from(v).to_le_bytes())
    }
    fn serialize_str(self, v: &str) -> Result<(), Refused> {
        self.serialize_bytes(v.as_bytes())
    }
    fn serialize_bytes(self, v: &[u8]) -> Result<(), Refused> {
        self.open(b'm', v.len())?.update(v);
        Ok(())
    }
    fn serialize_none(self) -> Result<(), Refused> {
        self.mark(b'n', &[])
    }
    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), Refused> {
        self.mark(b'o', &[])?;
        value.serialize(self)
    }
    fn serialize_unit(self) -> Result<(), Refused> {
        self.mark(b'p', &[])
    }
    fn serialize_unit_struct(self, _: &'static str) -> Result<(), Refused> {
        self.serialize_unit()
    }
    fn serialize_unit_variant(self, _: &'static str, index: u32, _: &'static str) -> Result<(), Refused> {
        self.mark(b'q', &index.to_le_bytes())
    }
    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, v: &T) -> Result<(), Refused> {
        v.serialize(self)
    }
    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        value: &T,
    ) -> Result<(), Refused> {
        self.mark(b'r', &index.to_le_bytes())?;
        value.serialize(self)
    }
    fn serialize_seq(self, len: Option<usize>) -> Result<Self, Refused> {
        self.open(b's', len.ok_or(Refused)?)
    }
    fn serialize_tuple(self, len: usize) -> Result<Self, Refused> {
        self.open(b't', len)
    }
    fn serialize_tuple_struct(self, _: &'static str, len: usize) -> Result<Self, Refused> {
        self.open(b't', len)
    }
    fn serialize_tuple_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        len: usize,
    ) -> Result<Self, Refused> {
        self.mark(b'u', &index.to_le_bytes())?;
        self.open(b't', len)
    }
    fn serialize_map(self, len: Option<usize>) -> Result<Self, Refused> {
        self.open(b'v', len.ok_or(Refused)?)
    }
    fn serialize_struct(self, _: &'static str, len: usize) -> Result<Self, Refused> {
        self.open(b'w', len)
    }
    fn serialize_struct_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        len: usize,
    ) -> Result<Self, Refused> {
        self.mark(b'x', &index.to_le_bytes())?;
        self.open(b'w', len)
    }
}

macro_rules! parts {
    ($($name:ident::$method:ident($($key:ty)?) $($skip:ident)?;)+) => {$(
        impl ser::$name for &mut Feed {
            type Ok = ();
            type Error = Refused;
            fn $method<T: Serialize + ?Sized>(&mut self, $(_: $key,)? value: &T) -> Result<(), Refused> {
                value.serialize(&mut **self)
            }
            $(fn $skip(&mut self, field: &'static str) -> Result<(), Refused> {
                self.mark(b'-', field.as_bytes())
            })?
            fn end(self) -> Result<(), Refused> {
                Ok(())
            }
        }
    )+};
}

// Field names are fixed by the type, which the place of a value within the whole stands for: only values and lengths count,
// and which fields were left out.
parts! {
    SerializeSeq::serialize_element();
    SerializeTuple::serialize_element();
    SerializeTupleStruct::serialize_field();
    SerializeTupleVariant::serialize_field();
    SerializeStruct::serialize_field(&'static str) skip_field;
    SerializeStructVariant::serialize_field(&'static str) skip_field;
}

impl ser::SerializeMap for &mut Feed {
    type Ok = ();
    type Error = Refused;
    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), Refused> {
        key.serialize(&mut **self)
    }
    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Refused> {
        value.serialize(&mut **self)
    }
    fn end(self) -> Result<(), Refused> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::Settings;

    use super::*;

    fn key(part: &impl Serialize) -> Key {
        Key::of(part)
    }

    #[test]
    fn different_contents_have_different_keys() {
        assert_ne!(key(&("ab", "c")), key(&("a", "bc")));
        assert_ne!(key(&Some(1_u32)), key(&1_u32));
        assert_ne!(key(&vec![vec![1_u8], vec![2]]), key(&vec![vec![1_u8, 2], vec![]]));
        assert_ne!(key(&0.3), key(&(0.1 + 0.2)));
        assert_ne!(key(&0.0), key(&-0.0));
        assert_ne!(key(&(1_u64, 2_u128)), key(&(1_u64, 3_u128)));
        assert_eq!(key(&("ab", 1.5)), key(&("ab", 1.5)));
        let limits = |toe, shoulder| Settings {
            usable_toe_gradient: toe,
            usable_shoulder_gradient: shoulder,
            ..Settings::default()
        };
        // Each of the two is left out where it is the usual one.
        assert_ne!(key(&limits(0.3, 0.2)), key(&limits(0.2, 0.3)));
    }
}

//! Keys of derived results: a digest of what each was made from, down to the bits of its numbers.

use std::fmt::Display;

use serde::Serialize;
use serde::ser;

/// The digest of everything a result was made from, or of a result itself. Equal keys mean equal contents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key([u8; 32]);

/// Builds a [`Key`] from parts, in order. Numbers count by their bits, so that `0.1 + 0.2` is not `0.3`.
#[derive(Debug)]
pub struct Recipe(blake3::Hasher);

impl Recipe {
    /// Begins with the kind of result and the version of the method that makes it.
    #[must_use]
    pub fn new(kind: &str, version: u32) -> Self {
        let mut hasher = blake3::Hasher::new();
        hasher.update(kind.as_bytes());
        hasher.update(&version.to_le_bytes());
        Self(hasher)
    }

    /// With one more part: any plain data.
    #[must_use]
    pub fn with(mut self, part: &(impl Serialize + ?Sized)) -> Self {
        self.0.update(b"|");
        if part.serialize(&mut Feed(&mut self.0)).is_err() {
            // No document or result type refuses to be written; if one ever does, it must not equal another.
            self.0.update(b"not serialisable");
        }
        self
    }

    /// With the key of another result.
    #[must_use]
    pub fn key(mut self, key: Key) -> Self {
        self.0.update(b"k");
        self.0.update(&key.0);
        self
    }

    /// With a long row of numbers.
    #[must_use]
    pub fn numbers(mut self, numbers: &[f64]) -> Self {
        self.0.update(&(numbers.len() as u64).to_le_bytes());
        let mut bytes = Vec::with_capacity(8 * 1024);
        for block in numbers.chunks(1024) {
            bytes.clear();
            bytes.extend(block.iter().flat_map(|number| number.to_bits().to_le_bytes()));
            self.0.update(&bytes);
        }
        self
    }

    /// The key.
    #[must_use]
    pub fn done(self) -> Key {
        Key(*self.0.finalize().as_bytes())
    }
}

/// Feeds plain data into a digest, each value with a mark of its kind and each text and list with its length, so that
/// different data never give the same bytes.
struct Feed<'a>(&'a mut blake3::Hasher);

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

impl Feed<'_> {
    fn mark(&mut self, mark: u8, bytes: &[u8]) -> Result<(), Refused> {
        self.0.update(&[mark]);
        self.0.update(bytes);
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

impl ser::Serializer for &mut Feed<'_> {
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
        self.open(b'm', v.len())?.0.update(v);
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
        impl ser::$name for &mut Feed<'_> {
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

// Field names are fixed by the type, which the kind and version of a recipe stand for: only values and lengths count, and
// which fields were left out.
parts! {
    SerializeSeq::serialize_element();
    SerializeTuple::serialize_element();
    SerializeTupleStruct::serialize_field();
    SerializeTupleVariant::serialize_field();
    SerializeStruct::serialize_field(&'static str) skip_field;
    SerializeStructVariant::serialize_field(&'static str) skip_field;
}

impl ser::SerializeMap for &mut Feed<'_> {
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
        Recipe::new("test", 1).with(part).done()
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

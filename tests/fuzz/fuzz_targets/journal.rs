//! A journal that anything may have happened to is read to its end, and a record that was read is
//! read again when it is written.
#![no_main]

use duskmark::journal::{Item, Reader};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let Ok(mut reader) = Reader::new(data) else {
        return;
    };
    let head = data
        .iter()
        .position(|byte| *byte == b'\n')
        .map_or(data.len(), |at| at + 1);
    let (mut again, mut records, mut bytes) = (data[..head].to_vec(), Vec::new(), 0);
    while let Ok(Some(item)) = reader.next_item() {
        match item {
            Item::Record(record) => {
                record.encode(&mut again);
                records.push(record);
            }
            Item::Damage(damage) | Item::TornTail(damage) => bytes += damage.bytes,
        }
    }
    assert!(bytes <= data.len() as u64);
    let mut second = Reader::new(again.as_slice()).expect("the same head");
    for record in records {
        assert_eq!(
            second.next_item().expect("it is in memory"),
            Some(Item::Record(record))
        );
    }
});

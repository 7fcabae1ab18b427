//! RLE Lossless (PS3.5 annex G). The library's decoder panics on damaged data; this one does not.

/// Decodes one RLE frame of `samples` values of `bytes` bytes each, to little-endian bytes.
pub(super) fn decode(frame: &[u8], samples: usize, bytes: usize) -> Result<Vec<u8>, String> {
    let word = |i: usize| -> Option<usize> {
        let b = frame.get(4 * i..4 * i + 4)?;
        Some(u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize)
    };
    let segments = word(0).ok_or("its RLE header is cut off")?;
    if segments != bytes {
        return Err(format!(
            "its RLE header names {segments} segments where {bytes} are needed"
        ));
    }
    let mut out = vec![0u8; samples * bytes];
    for segment in 0..segments {
        let start = word(1 + segment).ok_or("its RLE header is cut off")?;
        let end = if segment + 1 < segments {
            word(2 + segment).unwrap_or(frame.len())
        } else {
            frame.len()
        };
        let data = frame
            .get(start..end.min(frame.len()))
            .ok_or("an RLE segment lies outside the data")?;
        // The first segment holds the most significant bytes.
        let lane = bytes - 1 - segment;
        let (mut at, mut put) = (0, 0);
        while put < samples && at < data.len() {
            let control = data[at].cast_signed();
            at += 1;
            if control >= 0 {
                let n = (control as usize + 1)
                    .min(samples - put)
                    .min(data.len() - at);
                for (k, b) in data[at..at + n].iter().enumerate() {
                    out[(put + k) * bytes + lane] = *b;
                }
                at += control as usize + 1;
                put += n;
            } else if control != -128 {
                let value = *data.get(at).ok_or("an RLE run is cut off")?;
                at += 1;
                let n = (1 - isize::from(control)).unsigned_abs().min(samples - put);
                for k in 0..n {
                    out[(put + k) * bytes + lane] = value;
                }
                put += n;
            }
        }
        if put < samples {
            return Err(format!("its RLE data end after {put} of {samples} pixels"));
        }
    }
    Ok(out)
}

/// Encodes one frame of 16-bit samples.
pub(super) fn encode16(samples: &[u16]) -> Vec<u8> {
    let lanes: Vec<Vec<u8>> = vec![
        pack(&samples.iter().map(|v| (v >> 8) as u8).collect::<Vec<_>>()),
        pack(&samples.iter().map(|v| (v & 0xFF) as u8).collect::<Vec<_>>()),
    ];
    let mut out = vec![0u8; 64];
    out[0] = 2;
    for (i, lane) in lanes.iter().enumerate() {
        let at = out.len() as u32;
        out[4 + 4 * i..8 + 4 * i].copy_from_slice(&at.to_le_bytes());
        out.extend(lane);
        if out.len() % 2 == 1 {
            out.push(0);
        }
    }
    out
}

/// PackBits, runs of three and more as runs.
fn pack(data: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(data.len());
    let mut at = 0;
    while at < data.len() {
        let run = data[at..]
            .iter()
            .take(128)
            .take_while(|b| **b == data[at])
            .count();
        if run >= 3 {
            out.extend([(1 - run as isize) as i8 as u8, data[at]]);
            at += run;
            continue;
        }
        let start = at;
        while at < data.len() && at - start < 128 {
            if at + 2 < data.len() && data[at] == data[at + 1] && data[at] == data[at + 2] {
                break;
            }
            at += 1;
        }
        out.push((at - start - 1) as u8);
        out.extend(&data[start..at]);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_read_back_and_damage_is_a_sentence() {
        let samples: Vec<u16> = (0..5000u32)
            .map(|i| {
                if i % 700 < 300 {
                    77
                } else {
                    (i * 7919 % 4096) as u16
                }
            })
            .collect();
        let frame = encode16(&samples);
        let back = decode(&frame, samples.len(), 2).unwrap_or_default();
        let words: Vec<u16> = back
            .chunks_exact(2)
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect();
        assert_eq!(words, samples);
        for cut in [0, 3, 40, 70, frame.len() / 2] {
            assert!(decode(&frame[..cut], samples.len(), 2).is_err(), "{cut}");
        }
        for i in 0..frame.len().min(400) {
            let mut bad = frame.clone();
            bad[i] ^= 0x5A;
            let _ = decode(&bad, samples.len(), 2); // must not panic
        }
    }
}

//! JPEG Extended (Process 2 and 4): sequential DCT, Huffman coded, 8 or 12 bits, one component.
//!
//! Written from ITU-T T.81; no library in use here decodes 12 bits. Greyscale only: films have one
//! component. Restart intervals are honoured.

/// Coefficient order of T.81 figure A.6.
const ZIGZAG: [usize; 64] = [
    0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20,
    13, 6, 7, 14, 21, 28, 35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59,
    52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63,
];

type Fault = String;

/// A decoded image: width, height, samples.
pub(super) struct Decoded {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) samples: Vec<u16>,
}

#[derive(Clone, Default)]
struct Huffman {
    /// First code, first index and count by length.
    first: [i32; 17],
    start: [usize; 17],
    count: [usize; 17],
    symbols: Vec<u8>,
}

impl Huffman {
    fn new(counts: &[u8], symbols: Vec<u8>) -> Huffman {
        let mut h = Huffman {
            symbols,
            ..Huffman::default()
        };
        let (mut code, mut index) = (0i32, 0usize);
        for length in 1..=16 {
            h.first[length] = code;
            h.start[length] = index;
            h.count[length] = usize::from(counts[length - 1]);
            code = (code + i32::from(counts[length - 1])) << 1;
            index += usize::from(counts[length - 1]);
        }
        h
    }
}

struct Bits<'a> {
    data: &'a [u8],
    at: usize,
    buffer: u32,
    left: u32,
}

impl Bits<'_> {
    fn bit(&mut self) -> Result<i32, Fault> {
        if self.left == 0 {
            let byte = *self.data.get(self.at).ok_or("its JPEG data end early")?;
            if byte == 0xFF {
                match self.data.get(self.at + 1) {
                    Some(0) => self.at += 2,
                    // A marker: the scan is over; T.81 has decoders feed ones or zeros here.
                    _ => return Err("its JPEG data end early".to_owned()),
                }
            } else {
                self.at += 1;
            }
            self.buffer = u32::from(byte);
            self.left = 8;
        }
        self.left -= 1;
        Ok((self.buffer >> self.left & 1) as i32)
    }

    fn symbol(&mut self, h: &Huffman) -> Result<u8, Fault> {
        let mut code = 0i32;
        for length in 1..=16 {
            code = code << 1 | self.bit()?;
            let offset = code - h.first[length];
            if offset >= 0 && (offset as usize) < h.count[length] {
                return h
                    .symbols
                    .get(h.start[length] + offset as usize)
                    .copied()
                    .ok_or_else(|| "a JPEG code table is damaged".to_owned());
            }
        }
        Err("its JPEG data hold a code that no table has".to_owned())
    }

    fn receive_extend(&mut self, size: u8) -> Result<i32, Fault> {
        if size == 0 {
            return Ok(0);
        }
        if size > 16 {
            return Err("its JPEG data hold an impossible size".to_owned());
        }
        let mut v = 0;
        for _ in 0..size {
            v = v << 1 | self.bit()?;
        }
        Ok(if v < 1 << (size - 1) {
            v - (1 << size) + 1
        } else {
            v
        })
    }

    fn restart(&mut self) {
        self.left = 0;
        while self.at + 1 < self.data.len() {
            if self.data[self.at] == 0xFF && (0xD0..=0xD7).contains(&self.data[self.at + 1]) {
                self.at += 2;
                return;
            }
            self.at += 1;
        }
    }
}

#[derive(Default)]
struct Header {
    precision: u8,
    width: usize,
    height: usize,
    quantisation: [Option<[u16; 64]>; 4],
    quantisation_used: usize,
    dc: [Huffman; 4],
    ac: [Huffman; 4],
    restart: usize,
}

/// Decodes a one-component sequential DCT image, 8 or 12 bits.
pub(super) fn decode(data: &[u8], max_pixels: usize) -> Result<Decoded, Fault> {
    let mut header = Header::default();
    let mut at = 2;
    if data.get(..2) != Some(&[0xFF, 0xD8]) {
        return Err("its pixel data are no JPEG stream".to_owned());
    }
    loop {
        let (marker, body, next) = segment(data, at)?;
        match marker {
            0xC0 | 0xC1 => frame(&mut header, body, max_pixels)?,
            0xC2..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF => {
                return Err("its JPEG process is not baseline or extended".to_owned());
            }
            0xC4 => huffman(&mut header, body)?,
            0xDB => quantisation(&mut header, body)?,
            0xDD => header.restart = usize::from(be16(body, 0).ok_or("a JPEG segment is cut off")?),
            0xDA => return scan(&header, body, &data[next..]),
            0xD9 => return Err("its JPEG stream holds no image".to_owned()),
            _ => {}
        }
        at = next;
    }
}

fn be16(b: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes([*b.get(at)?, *b.get(at + 1)?]))
}

fn segment(data: &[u8], mut at: usize) -> Result<(u8, &[u8], usize), Fault> {
    let cut = || "its JPEG stream is cut off".to_owned();
    while *data.get(at).ok_or_else(cut)? != 0xFF {
        at += 1;
    }
    while *data.get(at).ok_or_else(cut)? == 0xFF {
        at += 1;
    }
    let marker = data[at];
    at += 1;
    if marker == 0xD9 {
        return Ok((marker, &[], at));
    }
    let length = usize::from(be16(data, at).ok_or_else(cut)?);
    let body = data.get(at + 2..at + length.max(2)).ok_or_else(cut)?;
    Ok((marker, body, at + length.max(2)))
}

fn frame(h: &mut Header, body: &[u8], max_pixels: usize) -> Result<(), Fault> {
    let cut = "its JPEG frame header is cut off";
    h.precision = *body.first().ok_or(cut)?;
    h.height = usize::from(be16(body, 1).ok_or(cut)?);
    h.width = usize::from(be16(body, 3).ok_or(cut)?);
    let components = *body.get(5).ok_or(cut)?;
    h.quantisation_used = usize::from(*body.get(8).ok_or(cut)?) & 3;
    if components != 1 {
        return Err(format!(
            "its JPEG image has {components} components; a film has one"
        ));
    }
    if !matches!(h.precision, 8 | 12)
        || h.width == 0
        || h.height == 0
        || h.width * h.height > max_pixels
    {
        return Err("its JPEG frame header does not fit the film".to_owned());
    }
    Ok(())
}

fn huffman(h: &mut Header, mut body: &[u8]) -> Result<(), Fault> {
    while body.len() >= 17 {
        let total: usize = body[1..17].iter().map(|c| usize::from(*c)).sum();
        let symbols = body
            .get(17..17 + total)
            .ok_or("a JPEG code table is cut off")?;
        let table = Huffman::new(&body[1..17], symbols.to_vec());
        let slot = usize::from(body[0] & 3);
        if body[0] >> 4 == 0 {
            h.dc[slot] = table
        } else {
            h.ac[slot] = table
        }
        body = &body[17 + total..];
    }
    Ok(())
}

fn quantisation(h: &mut Header, mut body: &[u8]) -> Result<(), Fault> {
    while let Some(first) = body.first() {
        let wide = first >> 4 != 0;
        let size = if wide { 128 } else { 64 };
        let values = body
            .get(1..1 + size)
            .ok_or("a JPEG quantisation table is cut off")?;
        let mut table = [0u16; 64];
        for (i, t) in table.iter_mut().enumerate() {
            *t = if wide {
                be16(values, 2 * i).unwrap_or(1)
            } else {
                u16::from(values[i])
            };
        }
        h.quantisation[usize::from(first & 3)] = Some(table);
        body = &body[1 + size..];
    }
    Ok(())
}

fn scan(h: &Header, body: &[u8], data: &[u8]) -> Result<Decoded, Fault> {
    let table = *body.get(2).ok_or("its JPEG scan header is cut off")?;
    let (dc, ac) = (
        &h.dc[usize::from(table >> 4) & 3],
        &h.ac[usize::from(table) & 3],
    );
    let q = h.quantisation[h.quantisation_used]
        .as_ref()
        .ok_or("a JPEG quantisation table is missing")?;
    if h.width == 0 {
        return Err("its JPEG frame header is missing".to_owned());
    }
    let (across, down) = (h.width.div_ceil(8), h.height.div_ceil(8));
    let mut samples = vec![0u16; h.width * h.height];
    let mut bits = Bits {
        data,
        at: 0,
        buffer: 0,
        left: 0,
    };
    let basis = basis();
    let middle = f32::from(1u16 << (h.precision - 1));
    let top = f32::from(((1u32 << h.precision) - 1) as u16);
    let mut predictor = 0i32;
    for block in 0..across * down {
        if h.restart > 0 && block > 0 && block % h.restart == 0 {
            bits.restart();
            predictor = 0;
        }
        let mut c = [0f32; 64];
        let size = bits.symbol(dc)?;
        predictor += bits.receive_extend(size)?;
        c[0] = predictor as f32 * f32::from(q[0]);
        let mut k = 1;
        while k < 64 {
            let s = bits.symbol(ac)?;
            let (run, size) = (usize::from(s >> 4), s & 15);
            if size == 0 {
                if run != 15 {
                    break;
                }
                k += 16;
                continue;
            }
            k += run;
            if k > 63 {
                return Err("its JPEG data overrun a block".to_owned());
            }
            c[ZIGZAG[k]] = bits.receive_extend(size)? as f32 * f32::from(q[k]);
            k += 1;
        }
        let pixels = inverse_dct(&c, &basis);
        let (x0, y0) = (block % across * 8, block / across * 8);
        for y in 0..8.min(h.height - y0) {
            for x in 0..8.min(h.width - x0) {
                samples[(y0 + y) * h.width + x0 + x] =
                    (pixels[8 * y + x] + middle).round().clamp(0.0, top) as u16;
            }
        }
    }
    Ok(Decoded {
        width: h.width,
        height: h.height,
        samples,
    })
}

/// `basis[8 u + x] = C(u)/2 · cos((2x+1) u π / 16)`, T.81 A.3.3.
fn basis() -> [f32; 64] {
    let mut b = [0f32; 64];
    for u in 0..8 {
        for x in 0..8 {
            let c = if u == 0 {
                std::f64::consts::FRAC_1_SQRT_2
            } else {
                1.0
            };
            let angle = (2 * x + 1) as f64 * u as f64 * std::f64::consts::PI / 16.0;
            b[8 * u + x] = (c / 2.0 * angle.cos()) as f32;
        }
    }
    b
}

fn inverse_dct(c: &[f32; 64], basis: &[f32; 64]) -> [f32; 64] {
    let mut rows = [0f32; 64];
    for v in 0..8 {
        let line = &c[8 * v..8 * v + 8];
        if line.iter().all(|x| *x == 0.0) {
            continue;
        }
        for x in 0..8 {
            rows[8 * v + x] = (0..8).map(|u| line[u] * basis[8 * u + x]).sum();
        }
    }
    let mut out = [0f32; 64];
    for y in 0..8 {
        for x in 0..8 {
            out[8 * y + x] = (0..8).map(|v| rows[8 * v + x] * basis[8 * v + y]).sum();
        }
    }
    out
}

"""Median milliseconds from bytes to pixels with pydicom, by plugin. Same files as benches/speed.rs.

python3 -m venv venv && venv/bin/pip install pydicom numpy pylibjpeg pylibjpeg-libjpeg pylibjpeg-openjpeg pylibjpeg-rle python-gdcm
venv/bin/python benches/decode_reference.py FOLDER
"""
import glob, io, os, statistics, sys, time
import pydicom
from pydicom.pixels import get_decoder

for path in sorted(glob.glob(os.path.join(sys.argv[1], "*.dcm"))):
    data = open(path, "rb").read()
    try:
        ds = pydicom.dcmread(io.BytesIO(data), force=True)
        decoder = get_decoder(ds.file_meta.TransferSyntaxUID)
        plugins = list(decoder.available_plugins) or [""]
    except Exception as e:
        continue
    for plugin in plugins:
        times = []
        try:
            for _ in range(7):
                t = time.perf_counter()
                ds = pydicom.dcmread(io.BytesIO(data), force=True)
                decoder.as_array(ds, raw=True, index=0, **({"decoding_plugin": plugin} if plugin else {}))
                times.append((time.perf_counter() - t) * 1e3)
        except Exception as e:
            continue
        print(f"reference,{os.path.basename(path)},{plugin or 'native'},{statistics.median(times):.3f}")

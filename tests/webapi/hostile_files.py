"""Files made to fill or to hold what reads them, one for each way that a format allows; all are small."""

import gzip
import io
import lzma
import struct
import zipfile

import h5py
import numpy as np
import openpyxl
import pyarrow as pa
import zstandard
from asammdf import MDF, Signal
from pyarrow import feather, parquet
from scipy.io import savemat

HEAD = b"time_s,current_A\n"
NUMBERS = {"time_s": np.arange(64.0), "current_A": np.linspace(-5.0, 5.0, 64)}
MANY = np.zeros(4_000_000)
"""More than the tests allow once unpacked, and next to nothing when packed."""


def arrow_bomb(write, **options):
    """Constant columns, packed to a few kilobytes."""
    target = io.BytesIO()
    write(pa.table({"time_s": MANY, "current_A": MANY}), target, **options)
    return target.getvalue()


def parquet_of(table, **options):
    target = io.BytesIO()
    parquet.write_table(table, target, **options)
    return target.getvalue()


def varint(number):
    """A whole number as Thrift's compact protocol writes it: zigzag, seven bits a byte."""
    number, found = 2 * number, b""
    while number > 127:
        found += bytes([number & 127 | 128])
        number >>= 7
    return found + bytes([number])


def forged_page():
    """A Parquet file whose first page says that it unpacks to two gigabytes."""
    numbers = np.random.default_rng(1).normal(size=64)
    plain = {"compression": "snappy", "use_dictionary": False, "write_statistics": False}
    content = parquet_of(pa.table({"current_A": numbers}), **plain)
    size = parquet.read_metadata(io.BytesIO(content)).row_group(0).column(0).total_compressed_size
    at = content.index(b"\x15", 5) + 1  # behind the page's kind
    old = varint(64 * 8 + 7)
    assert content[at : at + len(old)] == old
    stated = varint(2_000_000_000)
    page = content[:at] + stated + content[at + len(old) :]
    longer = size + len(stated) - len(old)
    assert page.count(b"\x16" + varint(size)) > 0
    return page.replace(b"\x16" + varint(size), b"\x16" + varint(longer))


def many_columns(count):
    names = [str(number) for number in range(count)]
    plain = {"compression": "none", "use_dictionary": False, "write_statistics": False, "store_schema": False}
    return parquet_of(pa.table([pa.array([1.0, 2.0])] * count, names=names), **plain)


def workbook(parts):
    """A workbook of which some parts are replaced, each given in pieces."""
    book, target = openpyxl.Workbook(), io.BytesIO()
    for row in [("time_s", "current_A"), (0, 1), (1, 2), (2, 1)]:
        book.active.append(row)
    book.save(target)
    changed = io.BytesIO()
    with zipfile.ZipFile(target) as old, zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new:
        for name in old.namelist():
            with new.open(name, "w") as part:
                part.writelines(parts.get(name, [old.read(name)]))
    return changed.getvalue()


def sheet(rows, head="", dimension=""):
    """A workbook with one sheet of these rows, given in pieces."""
    begin = f'<?xml version="1.0"?>{head}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    pieces = (begin, dimension, "<sheetData>", *rows, "</sheetData></worksheet>")
    return workbook({"xl/worksheets/sheet1.xml": [piece.encode() for piece in pieces]})


def entities():
    """Ten entities, each ten times the one before."""
    levels = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    rows = '<row r="1"><c r="A1" t="inlineStr"><is><t>&e9;</t></is></c></row>'
    return sheet(rows, head=f'<!DOCTYPE worksheet [<!ENTITY e0 "ha">{levels}]>')


def far_cells():
    """Two cells at opposite corners of the largest sheet that there is."""
    rows = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    return sheet(rows, dimension='<dimension ref="A1:XFD1048576"/>')


def long_text():
    """One text of 150 MB, which packs to a two-hundredth."""
    rows = ['<row r="1"><c r="A1" t="inlineStr"><is><t>', *["a" * 1_000_000] * 150, "</t></is></c></row>"]
    return sheet(rows)


def hdf5(fill):
    target = io.BytesIO()
    with h5py.File(target, "w") as file:
        fill(file)
    return target.getvalue()


def huge_dataset(file):
    """A terabyte of which nothing was ever written."""
    for name in ("time", "current_A"):
        file.create_dataset(name, shape=(2**37,), chunks=(1024,), dtype="f8")


def looping_links(file):
    """A group that contains itself under many names."""
    group = file.create_group("a")
    for number in range(12):
        group[f"l{number}"] = group


def mat(**options):
    target = io.BytesIO()
    savemat(target, NUMBERS, **options)
    return target.getvalue()


def forged_mat():
    """Sixty-four numbers that are said to be two thousand million."""
    return mat().replace(struct.pack("<ii", 1, 64), struct.pack("<ii", 1, 2**31 - 1))


def packed_mat():
    target = io.BytesIO()
    savemat(target, {"time_s": MANY, "current_A": MANY}, do_compression=True)
    return target.getvalue()


def mdf(folder):
    with MDF() as made:
        made.append([Signal(NUMBERS["current_A"], NUMBERS["time_s"], "A", name) for name in ("i", "j")])
        return made.save(folder / "made.mf4").read_bytes()


def looping_channels(folder):
    """The last channel is followed by itself."""
    content = bytearray(mdf(folder))
    at = content.rindex(b"##CN")
    content[at + 24 : at + 32] = struct.pack("<Q", at)
    return bytes(content)


def zipped(name, content):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return target.getvalue()


def nested(levels):
    content = HEAD + b"0,1\n" * 1000
    for _ in range(levels):
        content = zipped("log.zip", content)
    return content


BOMBS = {
    "gzip of many rows": lambda _: gzip.compress(HEAD + b"0,1\n" * 2_500_000),
    "gzip of one line": lambda _: gzip.compress(HEAD + b"1" * 70_000_000, 1),
    "zstd of many rows": lambda _: zstandard.compress(HEAD + b"0,1\n" * 2_500_000),
    "parquet of one value": lambda _: arrow_bomb(parquet.write_table),
    "parquet with a forged page": lambda _: forged_page(),
    "feather of one value": lambda _: arrow_bomb(feather.write_feather, compression="zstd"),
    "workbook of two far cells": lambda _: far_cells(),
    "workbook of one text": lambda _: long_text(),
    "mat of one value": lambda _: packed_mat(),
    "hdf5 of a terabyte": lambda _: hdf5(huge_dataset),
    "hdf5 within itself": lambda _: hdf5(looping_links),
    "mdf with a loop": looping_channels,
}
"""Files that fill or hold what reads them, by what they are; made when asked for, some in a folder."""

REFUSED_AT_SIGHT = {
    "xz of one line": lambda _: lzma.compress(HEAD + b"1" * 5_000_000),
    "zip in a zip in a zip": lambda _: nested(20),
    "zip of one line, as ods": lambda _: zipped("content.xml", b"<a>" + b"1" * 5_000_000),
    "json of brackets": lambda _: b"[" * 1_000_000,
    "text of a million columns": lambda _: b"a," * 1_000_000 + b"\n" + b"1," * 1_000_000 + b"\n",
    "parquet of many columns": lambda _: many_columns(3_000),
    "workbook of entities": lambda _: entities(),
    "mat with forged sizes": lambda _: forged_mat(),
    "cut parquet": lambda _: arrow_bomb(parquet.write_table)[:-200],
    "cut feather": lambda _: arrow_bomb(feather.write_feather)[:-200],
    "cut workbook": lambda _: workbook({})[:-200],
    "cut mat": lambda _: mat()[:-200],
    "cut hdf5": lambda _: hdf5(lambda file: file.update(NUMBERS))[:-200],
    "cut mdf": lambda folder: mdf(folder)[:-200],
}
"""Files of which the first look shows that they cannot be a history."""

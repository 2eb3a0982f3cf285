"""What is kept is what was given: a stored history with other bytes is never assessed, and an upload heals it."""

import hashlib
import html
import os
import shutil

import pytest
from pyarrow import compute, parquet

from webapi import models
from webapi.database import write
from webapi.errors import StoreError
from webapi.services import health, histories
from webapi.services.local_histories import ANY_SIZE
from webapi.services.repair import repair
from webapi.store.integrity import promised_hash


def plant(path):
    """A valid file of the same columns and rows with other numbers, and with the old time of its change."""
    status = path.stat()
    table = parquet.read_table(path)
    other = table.set_column(1, table.schema.field(1), compute.multiply(table.column(1), 1.5))
    parquet.write_table(other.replace_schema_metadata(table.schema.metadata), path)
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))


def cut(path):
    path.write_bytes(path.read_bytes()[:-100])


DAMAGES = (plant, cut, lambda path: path.write_bytes(b""), lambda path: path.unlink())


def stored_file(store, session, key):
    session.rollback()
    return store.folder / session.get(models.History, key).store_key


def test_a_stored_file_is_named_by_the_hash_of_its_bytes(session, store, uploaded):
    path = stored_file(store, session, uploaded)
    assert promised_hash(f"{uploaded[:2]}/{path.name}") == hashlib.sha256(path.read_bytes()).hexdigest()
    assert path.name.startswith(uploaded)


def test_damaged_it_is_refused_in_words_on_every_route_until_it_is_uploaded_again(
    client, session, store, service_study, uploaded, demo_csv
):
    reads = [f"/api/v1/histories/{uploaded}/preview", f"/histories/{uploaded}/trace.json?x=t_s&y=p_dc_W"]
    before = [client.get(route).data for route in reads]
    for damage in (plant, cut):
        damage(stored_file(store, session, uploaded))
        answers = [client.get(route) for route in (*reads, f"/histories/{uploaded}")]
        answers += [client.post(f"/api/v1/studies{route}", json=service_study) for route in ("/check", "")]
        for answer in answers:
            assert answer.status_code == 503
            told = answer.json["detail"] if answer.is_json else html.unescape(answer.text)
            assert '"yard_shift.csv"' in told
            assert "Upload the same file again" in told
        again = client.post("/api/v1/histories?name=yard_shift.csv", data=demo_csv)
        assert (again.status_code, again.json["id"]) == (200, uploaded)
        assert [client.get(route).data for route in reads] == before
    assert client.post("/api/v1/studies/check", json=service_study).status_code == 200


def test_a_job_over_planted_numbers_ends_in_words_and_runs_once_they_are_healed(
    client, session, store, service_study, uploaded, demo_csv, work
):
    job = client.post("/api/v1/studies", json=service_study).json["id"]
    plant(stored_file(store, session, uploaded))
    work()
    told = client.get(f"/api/v1/jobs/{job}").json
    assert told["state"] == "failed"
    assert "damaged" in told["message"]
    client.post("/api/v1/histories?name=yard_shift.csv", data=demo_csv)
    assert client.post("/api/v1/studies", json=service_study).json["id"] == job
    work()
    assert client.get(f"/api/v1/jobs/{job}").json["state"] == "done"


class TestCheckAndRepair:
    @pytest.fixture
    def kept(self, session, store, tmp_path):
        """Three small histories with their files."""
        files = {}
        for name in ("one.csv", "two.csv", "three.csv"):
            path = tmp_path / name
            path.write_text("time_s,current_A,mode\n" + "".join(f"{t},{t % 7},{name}\n" for t in range(50)), "utf-8")
            row, _ = histories.add_upload(session, store, path, name, ANY_SIZE)
            files[name] = (path, row.id)
        return files

    def test_whatever_happened_to_its_file_it_is_not_read(self, session, store, kept):
        path, key = kept["one.csv"]
        assert health.examine(session, store).sound
        for damage in DAMAGES:
            before = histories.preview(session, store, key)
            damage(stored_file(store, session, key))
            with pytest.raises(StoreError, match=r'"one.csv" is (damaged|missing)'):
                histories.preview(session, store, key)
            histories.add_upload(session, store, path, "one.csv", ANY_SIZE)
            assert histories.preview(session, store, key) == before

    def test_what_is_damaged_is_named_and_an_upload_heals_it(self, session, store, kept):
        plant(stored_file(store, session, kept["one.csv"][1]))
        stored_file(store, session, kept["two.csv"][1]).unlink()
        found = health.examine(session, store)
        assert not found.sound
        missing, damaged = found.lines[1:3]
        assert missing.startswith("Histories missing in the store: 1.")
        assert '"two.csv"' in missing
        assert damaged.startswith("Histories damaged in the store: 1.")
        assert '"one.csv"' in damaged
        session.rollback()
        done = list(repair(session, store, [kept[name][0] for name in ("one.csv", "three.csv")]))
        assert [line.rpartition("/")[2] for line in done] == [
            "one.csv: its history is stored anew.",
            "three.csv: its history was sound.",
        ]
        left = health.examine(session, store)
        assert [line for line in left.lines[1:] if "two.csv" not in line] == []
        assert not left.sound
        list(repair(session, store, [kept["two.csv"][0]]))
        assert health.examine(session, store).sound

    def test_a_file_that_was_never_uploaded_is_said_so(self, session, store, tmp_path):
        (tmp_path / "x.csv").write_text("a,b\n1,2\n", encoding="utf-8")
        assert list(repair(session, store, [tmp_path / "x.csv"])) == [
            f"{tmp_path / 'x.csv'}: no history on record was made from this file."
        ]

    def test_histories_of_packwear_0_1_get_their_hash(self, session, store, kept):
        """Their keys were made of the upload's hash alone, so the files of that time prove nothing."""
        for _, key in kept.values():
            old = f"{key[:2]}/{key}.parquet"
            shutil.move(stored_file(store, session, key), store.folder / old)
            with write(session):
                session.get(models.History, key).store_key = old
        cut(stored_file(store, session, kept["two.csv"][1]))
        plant_rows(stored_file(store, session, kept["three.csv"][1]))
        with pytest.raises(StoreError, match='"two.csv" is damaged'):
            histories.preview(session, store, kept["two.csv"][1])
        found = health.examine(session, store)
        assert found.sound
        assert found.lines[1].endswith("hash as they are now.")
        session.rollback()
        done = list(repair(session, store, []))
        assert sum("cannot be proven sound" in line for line in done) == 2
        assert "Histories whose hash is kept from now on: 1." in done
        assert promised_hash(session.get(models.History, kept["one.csv"][1]).store_key) is not None
        assert [key for key, _ in store.entries() if kept["one.csv"][1] in key] == [
            session.get(models.History, kept["one.csv"][1]).store_key
        ]
        done = list(repair(session, store, [path for path, _ in kept.values()]))
        assert "Files removed whose histories are stored anew: 2." in done
        assert len(health.examine(session, store).lines) == 1

    def test_files_that_no_history_names_are_told_and_do_no_harm(self, session, store, kept):
        path = stored_file(store, session, kept["one.csv"][1])
        shutil.copyfile(path, path.with_name("0" * 64 + path.name[64:]))
        found = health.examine(session, store)
        assert found.sound
        assert found.lines[1].startswith(
            f"Files in the store that no history names: 1 with {path.stat().st_size} bytes"
        )
        session.rollback()
        assert list(repair(session, store, [])) == []


def plant_rows(path):
    """Fewer rows than were stored."""
    table = parquet.read_table(path)
    parquet.write_table(table.slice(0, 20), path)

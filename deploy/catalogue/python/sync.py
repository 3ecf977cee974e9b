"""Keeps a catalogue in step. AT and KEY are set; numbers.txt is here, a number a line."""

import json, os, pathlib, urllib.request

AT, KEY = os.environ["AT"], os.environ["KEY"]
CURSOR, PAGES = pathlib.Path("cursor.txt"), pathlib.Path("summaries")


def ask(path, body=None, accept="application/json"):
    headers = {"Authorization": f"Bearer {KEY}", "Accept": accept, "Content-Type": "application/json"}
    data = None if body is None else json.dumps(body).encode()
    with urllib.request.urlopen(urllib.request.Request(AT + path, data, headers), timeout=60) as answer:
        return answer.read().decode()


def page(specimen):
    for accept, ending in (("text/html", "html"), ("image/svg+xml", "svg")):
        (PAGES / f"{specimen}.{ending}").write_text(ask(f"/v1/specimens/{specimen}/summary", accept=accept), encoding="utf-8")


def record(record_id, statement):  # your record's id makes it one treatment, however often it is sent
    return json.loads(ask("/v1/treatments", {"source": {"system": "catalogue", "recordId": record_id}, "statement": statement}))


def follow():
    while True:
        after = f"&cursor={CURSOR.read_text()}" if CURSOR.exists() else ""
        changes = json.loads(ask(f"/v1/changes?limit=500{after}"))
        treatments = [c["record"] for c in changes["items"] if c["record"]["kind"] == "treatment" and "statement" in c["record"]]
        for specimen in {t["statement"]["specimen"]["id"] for t in treatments}:
            page(specimen)
        if not changes["items"]:
            return
        new = CURSOR.with_suffix(".new")
        new.write_text(changes["cursor"])
        os.replace(new, CURSOR)  # whole or not at all


PAGES.mkdir(exist_ok=True)
numbers = pathlib.Path("numbers.txt").read_text(encoding="utf-8").splitlines()
for item in json.loads(ask("/v1/specimen-lookup", {"numbers": [{"number": n} for n in numbers]}))["items"]:
    if item["answer"] == "recorded":
        for hit in item["specimens"]:
            page(hit["specimen"]["id"])
record("T-2026-0032", {
    "specimen": {"identifier": {"kind": "catalogue-number", "value": "LV.1987/0042", "collection": "palaeontology"}},
    "action": "cleaning", "method": "swab", "areas": {"paths": ["skull/right-orbit"]}, "dates": {"edtf": "2026-02"},
    "people": [{"person": {"name": "Ilse Varga"}, "part": "carried-out"}]})
follow()

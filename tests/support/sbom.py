#!/usr/bin/env python3
"""Holds what the package says it consists of against the program: sbom.py EMBERLINE ROOT VERSION [HEADER]...

Every library the program needs (DT_NEEDED in its dynamic section) has its entry in what docker/package/sbom.sh writes, by
the version dpkg knows, under a licence that the package's own copyright file speaks of; so has what leaves nothing to
link with. The form is SPDX 2.3 (ISO/IEC 5962 is 2.2.1; the fields demanded of 2.3 from its specification, from memory).
Written twice at a fixed time it is the same to the byte.
"""
import json
import os
import re
import subprocess
import sys

# What a copyright file has to speak of for SPDX's name to be right: names of the machine-readable format, or the words
# of the licence itself where the file is older.
WORDS = {
    "MIT": r"Expat|MIT|X11|Permission is hereby granted, free of charge",
    "LGPL-2.1-or-later": r"LGPL-2\.1\+|LGPL-2\.1|version 2\.1 of the License, or",
    "GPL-3.0-or-later WITH GCC-exception-3.1": r"GCC Runtime Library Exception|GCC RUNTIME LIBRARY EXCEPTION",
    "BSL-1.0": r"BSL-1\.0|Boost Software License",
    "BSD-3-Clause": r"BSD-3-[Cc]lause",
    "BSD-2-Clause": r"BSD-2-[Cc]lause",
    "ISC": r"ISC",
    "Beerware": r"[Bb]eer-?[Ww]are",
}
MUST_HAVE = {"name", "SPDXID", "versionInfo", "downloadLocation", "filesAnalyzed", "licenseConcluded", "licenseDeclared"}


def said(*command, **more):
    return subprocess.run(command, capture_output=True, text=True, check=True, **more).stdout


def bill(emberline, root, version, headers):
    arguments = [word for header in headers for word in ("--header", header)]
    arguments += ["--vendored", "uPlot:1.6.32:MIT:pkg:npm/uplot@1.6.32"]
    return said(os.path.join(root, "docker/package/sbom.sh"), emberline, version, *arguments,
                env={**os.environ, "SOURCE_DATE_EPOCH": "1000000000"})


def look_at_form(document, complaints):
    if (document["spdxVersion"], document["dataLicense"], document["SPDXID"]) != ("SPDX-2.3", "CC0-1.0", "SPDXRef-DOCUMENT"):
        complaints.append("the head is not that of SPDX 2.3")
    if document["creationInfo"]["created"] != "2001-09-09T01:46:40Z":  # a thousand million seconds of POSIX time
        complaints.append(f"the time is {document['creationInfo']['created']}, not SOURCE_DATE_EPOCH")
    ids = [package["SPDXID"] for package in document["packages"]]
    if len(ids) != len(set(ids)) or not all(re.fullmatch(r"SPDXRef-[A-Za-z0-9.-]+", one) for one in ids):
        complaints.append(f"the ids are not good: {ids}")
    for package in document["packages"]:
        if MUST_HAVE - set(package):
            complaints.append(f"{package['name']}: without {sorted(MUST_HAVE - set(package))}")
    known = set(ids) | {"SPDXRef-DOCUMENT"}
    related = {one["relatedSpdxElement"] for one in document["relationships"]}
    if not {one["spdxElementId"] for one in document["relationships"]} <= known or related != set(ids):
        complaints.append("the relationships do not reach every package")


def look_at_package(package, complaints):
    name = package["name"]
    version = said("dpkg-query", "-W", "-f", "${Version}\n", name).split("\n")[0]
    if package["versionInfo"] != version:
        complaints.append(f"{name}: {package['versionInfo']}; dpkg says {version}")
    with open(f"/usr/share/doc/{name}/copyright", encoding="utf-8", errors="replace") as file:
        text = file.read()
    for licence in package["licenseDeclared"].split(" AND "):
        if not re.search(WORDS.get(licence, "(?!)"), text):
            complaints.append(f"{name}: {licence}, of which its copyright file says nothing")
    if not package["externalRefs"][0]["referenceLocator"].startswith("pkg:deb/"):
        complaints.append(f"{name}: no package URL")


def main():
    emberline, root = (os.path.abspath(path) for path in sys.argv[1:3])
    version, headers = sys.argv[3], sys.argv[4:]
    text = bill(emberline, root, version, headers)
    document = json.loads(text)
    complaints = []
    if bill(emberline, root, version, headers) != text:
        complaints.append("written twice, it differs")
    look_at_form(document, complaints)
    listed = " ".join(package["comment"] for package in document["packages"])
    needed = re.findall(r"\(NEEDED\).*\[(.*)\]", said("readelf", "-d", emberline, env={**os.environ, "LC_ALL": "C"}))
    if len(needed) < 5:
        complaints.append(f"readelf sees too few libraries to hold it against: {needed}")
    for library in needed:
        if not re.search(rf"(?<![\w.]){re.escape(library)}(?![\w.])", listed):
            complaints.append(f"the program needs {library}; nothing of that is listed")
    for header in headers:
        if header.split("/include/")[-1] not in listed:
            complaints.append(f"{header} is compiled in; nothing of that is listed")
    sum_of_program = said("sha256sum", emberline).split()[0]
    if sum_of_program not in text:
        complaints.append("it does not say which program it is about")
    with open(os.path.join(root, "sim/io/panel/page/vendor/README.md"), encoding="utf-8") as file:
        if file.readline().strip() != "# uPlot 1.6.32":
            complaints.append("the library of the page has another version than this test asks for")
    of_debian = [package for package in document["packages"] if package["name"] not in ("emberline", "uPlot")]
    for package in of_debian:
        look_at_package(package, complaints)
    if complaints:
        print("\n".join(complaints))
        sys.exit(1)
    print(f"{len(needed)} libraries and {len(headers)} headers, {len(of_debian)} packages with version and licence")


if __name__ == "__main__":
    main()

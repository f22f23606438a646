"""Evidence packs taken apart, and put together again by who would deceive."""
import hashlib
import zipfile


def unpack(pack, folder):
    with zipfile.ZipFile(pack) as z:
        z.extractall(folder)
    return folder


def repack(folder, to, without=()):
    """Zipped anew, with a manifest that fits: a forger who knows how."""
    names = sorted(x.name for x in folder.iterdir() if x.name != "MANIFEST.sha256" and x.name not in without)
    manifest = "".join("%s  %s\n" % (hashlib.sha256((folder / n).read_bytes()).hexdigest(), n) for n in names)
    (folder / "MANIFEST.sha256").write_text(manifest)
    with zipfile.ZipFile(to, "w") as z:
        for n in names + ["MANIFEST.sha256"]:
            z.write(folder / n, n)
    return to

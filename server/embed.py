#!/usr/bin/env python3
"""Make a C file of arrays out of files, so that the binary is whole.

usage: embed.py OUT.c PREFIX ROOT FILE...

Gives `const struct kw_embedded PREFIX[]`, ended by a row without a name; names are the paths below ROOT.
"""
import os
import sys


def main():
    out, prefix, root = sys.argv[1:4]
    rows = []
    with open(out, "w", encoding="ascii") as c:
        c.write('#include "kinwire/embedded.h"\n')
        for i, path in enumerate(sorted(sys.argv[4:])):
            with open(path, "rb") as f:
                data = f.read()
            c.write("static const unsigned char file_%d[] = {" % i)
            c.write(",".join(str(b) for b in data + b"\0"))
            c.write("};\n")
            rows.append((os.path.relpath(path, root).replace(os.sep, "/"), i, len(data)))
        c.write("const struct kw_embedded %s[] = {\n" % prefix)
        for name, i, size in rows:
            c.write('        {"%s", file_%d, %d},\n' % (name, i, size))
        c.write("        {0, 0, 0},\n};\n")


main()

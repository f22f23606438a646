/*
 * kinwire-history: writes the ledger of an invented mill.
 */
#include "history.h"

#include "kinwire/error.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int main(int argc, char **argv)
{
        struct history_figures figures;
        struct kw_error err = {0};
        struct history h;
        double years = argc > 2 ? strtod(argv[1], NULL) : 0;
        int rc;

        if (argc < 3 || argc > 4 || years <= 0) {
                fprintf(stderr, "usage: kinwire-history YEARS LEDGER [SEED]\n"
                                "Writes the ledger of an invented mill, the same for the same seed (default 1).\n");
                return 2;
        }
        rc = history_make(&h, years, argc > 3 ? strtoull(argv[3], NULL, 10) : 1);
        if (rc == 0)
                rc = history_write(&h, argv[2], &figures, &err);
        if (rc)
                fprintf(stderr, "kinwire-history: %s: %s\n", argv[2], rc < 0 ? strerror(-rc) : err.text);
        else
                history_print(&h, &figures);
        history_free(&h);
        return rc ? 1 : 0;
}

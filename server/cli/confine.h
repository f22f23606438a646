#ifndef KW_CLI_CONFINE_H
#define KW_CLI_CONFINE_H
/*
 * The daemon within its sandbox: which files it still needs while it serves.
 */
#include "kinwire/http.h"

/**
 * kw_confine_files - before any thread is begun: leave the process the ledger's folder, temporary files, the pages'
 * folder, the certificate's, and what fonts are found by Return: as kw_sandbox_files().
 */
int kw_confine_files(const struct kw_http_options *how, struct kw_error *err);

#endif

/*
 * What a certificate needs: the documents, and the rules by which something is missing.
 */
#include "kinwire/certify.h"

#include <string.h>

static const struct kw_document_row documents[] = {
        {"2.2", "Test report",
         "We declare that the products delivered comply with the requirements of the order. The results stated are of "
         "non-specific inspection: of products made to the same specification by the same process, which are not "
         "necessarily those delivered.",
         false, false},
        {"3.1", "Inspection certificate",
         "We declare that the products delivered comply with the requirements of the order. The results stated are of "
         "specific inspection: of the products delivered, or of the test units they are part of. Validated by the "
         "manufacturer's authorised inspection representative, independent of the manufacturing department.",
         true, false},
        {"3.2", "Inspection certificate",
         "We declare that the products delivered comply with the requirements of the order. The results stated are of "
         "specific inspection: of the products delivered, or of the test units they are part of. Validated by the "
         "manufacturer's authorised inspection representative, independent of the manufacturing department, and by the "
         "purchaser's authorised inspection representative or an inspector designated by official regulations.",
         true, true},
};

#define DOCUMENTS (sizeof(documents) / sizeof(documents[0]))

const struct kw_document_row *kw_document_at(size_t i)
{
        return i < DOCUMENTS ? &documents[i] : NULL;
}

const struct kw_document_row *kw_document(const char *name)
{
        for (size_t i = 0; i < DOCUMENTS; i++)
                if (strcmp(documents[i].name, name) == 0)
                        return &documents[i];
        return NULL;
}

const char *const kw_rope_caution[] = {
        "The minimum breaking force is not a working load.",
        "Choose rope, design factor and inspection with a competent person and the rules in force.",
        "Inspect before use; take out of service at the discard limits.",
        NULL,
};

const char *const kw_certificate_caution =
        "This document speaks of the rope as it was made. It says nothing of its state after storage, fitting or use.";

/* --- what is missing ------------------------------------------------------------------------------------ */

static const struct kw_lack_row lacks[KW_LACKS] = {
        [KW_LACK_HEAT] = {"no-heat", true},
        [KW_LACK_RUN_OPEN] = {"run-open", true},
        [KW_LACK_HOLD] = {"on-hold", true},
        [KW_LACK_REWORK] = {"to-rework", true},
        [KW_LACK_TEST] = {"test-missing", true},
        [KW_LACK_FAILED] = {"test-failed", true},
        [KW_LACK_ONE_HEAT] = {"several-heats", true},
        [KW_LACK_JOINTS] = {"joints-near", true},
        [KW_LACK_CERTIFIED] = {"certified", true},
        [KW_LACK_OVERTAKEN] = {"overtaken", true},
        [KW_KNOW_JOINTS] = {"joints-possibly-near", false},
        [KW_KNOW_FAILED] = {"metal-failed", false},
        [KW_KNOW_HELD] = {"metal-held", false},
        [KW_KNOW_NO_SPEC] = {"no-spec", false},
        [KW_KNOW_SHORT] = {"short", false},
};

const struct kw_lack_row *kw_lack_row(enum kw_lack lack)
{
        return &lacks[lack];
}

int64_t kw_tests_lacking(const struct kw_document_row *document, const struct kw_needed *needed)
{
        int64_t lacking = needed->n - needed->passed - needed->conceded;

        if (lacking < 0 || (!document->specific && needed->alike > 0))
                return 0;
        return document->specific || lacking == 0 ? lacking : 1;
}

static bool is_covered(struct kw_span place, const struct kw_spans *by)
{
        for (size_t i = 0; i < by->n; i++)
                if (by->at[i].from <= place.from && place.to <= by->at[i].to)
                        return true;
        return false;
}

bool kw_failure_excused(const struct kw_failure *failure)
{
        int64_t needed = failure->passes_needed > 1 ? failure->passes_needed : 1;

        return failure->passed_since >= needed || failure->reel_conceded ||
               is_covered(failure->place, failure->conceded);
}

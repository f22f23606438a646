/*
 * The shapes of certificates: issuing one, withdrawing it, and clearing what speaks against it.
 */
#include "shape.h"

#include <string.h>

/* clang-format off */
#define END {NULL, KW_OPTIONAL, NULL, NULL}
#define CHOICE(...) {.type = KW_SHAPE_CHOICE, .choices = (const char *const[]){__VA_ARGS__, NULL}}
/* clang-format on */

static const struct kw_shape code = {.type = KW_SHAPE_CODE};
static const struct kw_shape lot_code = {.type = KW_SHAPE_CODE, .stands_for = "lot"};
static const struct kw_shape name = {.type = KW_SHAPE_LINE, .min = 1, .max = 200};
static const struct kw_shape prose = {.type = KW_SHAPE_PROSE, .min = 1, .max = KW_TEXT_MAX};
static const struct kw_shape codes = {.type = KW_SHAPE_ARRAY, .min = 0, .max = 2000, .items = &code, .distinct = ""};
static const struct kw_shape reels = {
        .type = KW_SHAPE_ARRAY, .min = 1, .max = 2000, .items = &lot_code, .distinct = ""};
static const struct kw_shape type = CHOICE("2.2", "3.1", "3.2");

/* It stands in links and in a bar code, so it has nothing that would have to be escaped in either. */
static int is_address(struct kw_walk *walk, const cJSON *value)
{
        const char *text = value->valuestring, *rest;
        size_t n = strlen(text);

        rest = strncmp(text, "https://", 8) == 0 ? text + 8 : strncmp(text, "http://", 7) == 0 ? text + 7 : NULL;
        if (rest && n > 8 && text[n - 1] == '/' &&
            strspn(rest, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~:/[]") == strlen(rest))
                return 0;
        return kw_walk_refuse(walk, KW_BAD_VALUE, NULL, "address", NULL,
                              "An address begins with http:// or https:// and ends with /, as https://mill.example/.");
}

static const struct kw_shape address = {.type = KW_SHAPE_LINE, .min = 1, .max = 200, .also = is_address};
static const struct kw_shape document = {.type = KW_SHAPE_ANY};

static const struct kw_shape signer = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a signature",
        .members = (const struct kw_member[]){{"name", KW_NEEDED, &name, "the name of who signs"},
                                              {"position", KW_OPTIONAL, &name, "what they are"},
                                              END}};
static const struct kw_shape countersigner = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a second signature",
        .members = (const struct kw_member[]){{"name", KW_NEEDED, &name, "the name of who signs"},
                                              {"for", KW_NEEDED, &name, "the purchaser or the authority they act for"},
                                              END}};

const struct kw_shape kw_shape_certify = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a certificate",
        .members = (const struct kw_member[]){
                {"certificate", KW_NEEDED, &code, "its number"},
                {"type", KW_NEEDED, &type, "the type of inspection document"},
                {"reels", KW_NEEDED, &reels, "the reels it is for"},
                {"tests", KW_OPTIONAL, &codes, "the tests it states"},
                {"statement", KW_OPTIONAL, &prose, "what it states besides"},
                {"replaces", KW_OPTIONAL, &code, "the certificate that it stands in for"},
                {"signed", KW_OPTIONAL, &signer, "who signs it"},
                {"countersigned", KW_OPTIONAL, &countersigner, "who signs it for the purchaser or an authority"},
                {"address", KW_OPTIONAL, &address, "where its figures are looked up"},
                {"document", KW_OPTIONAL, &document, "what it says"},
                END}};

const struct kw_shape kw_shape_withdraw = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a withdrawal",
        .members = (const struct kw_member[]){{"certificate", KW_NEEDED, &code, "the certificate's number"},
                                              {"reason", KW_NEEDED, &prose, "the reason"},
                                              END}};

const struct kw_shape kw_shape_clear = {
        .type = KW_SHAPE_OBJECT,
        .noun = "a clearing",
        .members = (const struct kw_member[]){{"certificate", KW_NEEDED, &code, "the certificate's number"},
                                              {"reason", KW_NEEDED, &prose, "why it stands all the same"},
                                              {"holds", KW_OPTIONAL, &codes, "the holds that are answered"},
                                              END}};

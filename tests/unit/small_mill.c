/*
 * The small mill: coils A and B drawn by run D1 to P1, P2, P3 and P4, whose times are known in part; tests on them;
 * coil C pickled, cropped and drawn in part; P4 galvanised under a batch, certified and sent.
 */
#include "small_mill.h"

/* Two coils drawn by one run to four lots, whose times are known in part; tests on them; and what was made before and
 * after. */
static const struct {
        const char *kind, *at, *body;
} entries[] = {
        {"heat", "2026-03-01T06:00:00Z", "{\"heat\":\"H1\",\"supplier\":\"Northmark\",\"grade\":\"C82D\"}"},
        {"heat", "2026-03-01T06:00:00Z", "{\"heat\":\"H2\",\"supplier\":\"Northmark\",\"grade\":\"C86D\"}"},
        {"supply", "2026-03-01T06:00:00Z", "{\"supply\":\"SOAP\",\"what\":\"soap\",\"supplier\":\"Tallow\"}"},
        {"supply", "2026-03-01T06:00:00Z", "{\"supply\":\"WIRE\",\"what\":\"wire\",\"supplier\":\"Penmarrow\"}"},
        {"receive", "2026-03-01T07:00:00Z", "{\"lot\":\"A\",\"heat\":\"H1\",\"diameter_um\":5500,\"length_mm\":10000}"},
        {"receive", "2026-03-01T07:00:00Z", "{\"lot\":\"B\",\"heat\":\"H2\",\"diameter_um\":5500,\"length_mm\":10000}"},
        {"receive", "2026-03-01T07:00:00Z", "{\"lot\":\"C\",\"heat\":\"H2\",\"diameter_um\":5500,\"length_mm\":10000}"},
        {"receive", "2026-03-01T07:00:00Z",
         "{\"lot\":\"W\",\"supply\":\"WIRE\",\"kind\":\"bobbin\",\"diameter_um\":2000,\"length_mm\":5000}"},
        /* of C: taken before the batch, at its very second by an earlier entry, and after it */
        {"scrap", "2026-03-01T08:00:00Z", "{\"lot\":\"C\",\"from_mm\":0,\"to_mm\":100,\"reason\":\"end\"}"},
        {"scrap", "2026-03-01T09:00:00Z", "{\"lot\":\"C\",\"from_mm\":100,\"to_mm\":200,\"reason\":\"end\"}"},
        {"batch", "2026-03-01T10:00:00Z",
         "{\"batch\":\"CB\",\"process\":\"clean\",\"machine\":\"PICKLE\",\"started\":\"2026-03-01T09:00:00Z\","
         "\"ended\":\"2026-03-01T10:00:00Z\",\"lots\":[{\"lot\":\"C\"},{\"lot\":\"B\",\"from_mm\":0,\"to_mm\":4000}]}"},
        {"scrap", "2026-03-01T09:00:00Z", "{\"lot\":\"C\",\"from_mm\":200,\"to_mm\":300,\"reason\":\"end\"}"},
        {"scrap", "2026-03-01T11:00:00Z", "{\"lot\":\"C\",\"from_mm\":9000,\"to_mm\":10000,\"reason\":\"end\"}"},
        {"run", "2026-03-01T16:30:00Z",
         "{\"run\":\"D1\",\"process\":\"draw\",\"machine\":\"M1\",\"started\":\"2026-03-01T12:00:00Z\","
         "\"ended\":\"2026-03-01T16:00:00Z\",\"tolerance_ppm\":0,\"supplies\":[\"SOAP\"],"
         "\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"A\"},{\"lot\":\"B\",\"weld\":\"W1\",\"affected_mm\":100}]}],"
         "\"packages\":[{\"lot\":\"P1\",\"kind\":\"bobbin\",\"length_mm\":5000,\"doffed\":\"2026-03-01T13:00:00Z\"},"
         "{\"lot\":\"P2\",\"kind\":\"bobbin\",\"length_mm\":5000},"
         "{\"lot\":\"P3\",\"kind\":\"bobbin\",\"length_mm\":5000,\"doffed\":\"2026-03-01T15:00:00Z\"},"
         "{\"lot\":\"P4\",\"kind\":\"bobbin\",\"length_mm\":5000}]}"},
        {"run", "2026-03-01T18:00:00Z",
         "{\"run\":\"D2\",\"process\":\"draw\",\"machine\":\"M1\",\"tolerance_ppm\":0,"
         "\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"C\",\"from_mm\":1000,\"to_mm\":2000}]}],"
         "\"packages\":[{\"lot\":\"Q1\",\"kind\":\"bobbin\",\"length_mm\":1000}]}"},
        {"run", "2026-03-01T10:00:00Z",
         "{\"run\":\"E1\",\"process\":\"draw\",\"machine\":\"M9\",\"tolerance_ppm\":0,"
         "\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"C\",\"from_mm\":2000,\"to_mm\":3000}]}],"
         "\"packages\":[{\"lot\":\"E\",\"kind\":\"bobbin\",\"length_mm\":1000}]}"},
        {"batch", "2026-03-01T21:30:00Z",
         "{\"batch\":\"GB\",\"process\":\"galvanise\",\"machine\":\"POT\",\"started\":\"2026-03-01T20:00:00Z\","
         "\"ended\":\"2026-03-01T21:00:00Z\"}"},
        {"run", "2026-03-01T22:00:00Z",
         "{\"run\":\"G1\",\"process\":\"galvanise\",\"machine\":\"LINE-2\",\"batch\":\"GB\",\"tolerance_ppm\":0,"
         "\"lines\":[{\"line\":\"1\",\"feeds\":[{\"lot\":\"P4\"}]}],"
         "\"packages\":[{\"lot\":\"Z\",\"kind\":\"reel\",\"length_mm\":5000}]}"},
        {"test", "2026-03-02T08:00:00Z",
         "{\"test\":\"T1\",\"lot\":\"P1\",\"at_mm\":4000,\"instrument\":\"TO\",\"results\":{\"torsions\":30},"
         "\"verdict\":\"pass\"}"},
        {"test", "2026-03-02T09:00:00Z",
         "{\"test\":\"F1\",\"lot\":\"P2\",\"at_mm\":1000,\"instrument\":\"TO\",\"results\":{\"torsions\":3},"
         "\"verdict\":\"fail\"}"},
        {"test", "2026-03-02T10:00:00Z",
         "{\"test\":\"T3\",\"lot\":\"P2\",\"at_mm\":4000,\"results\":{\"torsions\":30},\"verdict\":\"pass\"}"},
        {"test", "2026-03-02T11:00:00Z",
         "{\"test\":\"T4\",\"lot\":\"P3\",\"results\":{\"bends\":12},\"verdict\":\"pass\"}"},
        {"test", "2026-03-02T11:00:00Z",
         "{\"test\":\"T5\",\"lot\":\"P1\",\"results\":{\"bends\":12},\"verdict\":\"pass\"}"},
        {"test", "2026-03-02T12:00:00Z",
         "{\"test\":\"F2\",\"lot\":\"P2\",\"at_mm\":1000,\"results\":{\"bends\":2},\"verdict\":\"fail\"}"},
        {"test", "2026-03-02T12:00:00Z",
         "{\"test\":\"F3\",\"lot\":\"P2\",\"results\":{\"torsions\":2},\"verdict\":\"fail\"}"},
        {"test", "2026-03-02T12:00:00Z",
         "{\"test\":\"F4\",\"lot\":\"P2\",\"at_mm\":1000,\"results\":{\"lay_um\":2},\"verdict\":\"fail\"}"},
        {"test", "2026-03-02T12:00:00Z",
         "{\"test\":\"F5\",\"lot\":\"A\",\"results\":{\"bends\":2},\"verdict\":\"fail\"}"},
        {"test", "2026-03-02T12:00:00Z",
         "{\"test\":\"Z1\",\"lot\":\"Z\",\"results\":{\"zinc_mg_m2\":9},\"verdict\":\"pass\"}"},
        {"certify", "2026-03-02T13:00:00Z",
         "{\"certificate\":\"K1\",\"type\":\"3.1\",\"reels\":[\"Z\"],\"tests\":[\"Z1\"]}"},
        {"dispatch", "2026-03-02T14:00:00Z", "{\"consignment\":\"N1\",\"consignee\":\"Fernhill\",\"lots\":[\"Z\"]}"},
};

struct kw_ledger *small_mill(void)
{
        struct kw_ledger *ledger = recorder_new();

        for (size_t i = 0; i < sizeof(entries) / sizeof(*entries); i++)
                record(ledger, entries[i].kind, entries[i].at, entries[i].body);
        return ledger;
}

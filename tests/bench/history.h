#ifndef KW_BENCH_HISTORY_H
#define KW_BENCH_HISTORY_H
/*
 * An invented history of a large mill: any number of years, the same for the same seed.
 *
 *      rods --clean (batches)--> --draw 5..10 coils--> coils --patent 20--> coils --draw 3..5--> bobbins
 *      bobbins --strand 19..36 wires--> strands --close 6 and a core--> rope --cut 3..8--> reels --> consignments
 *
 * First the whole history is made in memory, stage by stage (history.c), then written entry by entry in order of time
 * through kw_ledger_append() (history_write.c), so that the ledger is one as any other. Times are days since the start.
 */
#include <stddef.h>
#include <stdint.h>

enum lot_kind { ROD, FIBRE, COIL, PATENTED, BOBBIN, STRAND, ROPE, REEL, LOT_KINDS };
enum process { CLEAN, DRAW_COIL, PATENT, DRAW_WIRE, STRANDING, CLOSE, CUT, SEND, PROCESSES };

struct lot {
        double there; /* when it can be used */
        uint32_t heat;
        int32_t length_mm;
        int32_t left_mm;
        uint16_t diameter_um;
        uint8_t kind, type; /* type: what goes together in the next stage */
};

/* From the outer end, or the whole of a lot that nothing was taken of. */
struct feed {
        uint32_t lot;
        int32_t take_mm;
        int32_t seen_mm; /* of the joint before it; 0: not seen */
        uint16_t line;
};

/* A run, a cleaning batch (feeds only) or a consignment (feeds only). */
struct run {
        double start, end;
        uint32_t feed, feeds, lot, lots; /* the lots that it made follow one another */
        uint8_t process, machine;
        uint16_t lines;
};

struct history {
        uint32_t heats;
        struct lot *lots;
        struct run *runs;
        struct feed *feeds;
        size_t n_lots, n_runs, n_feeds;
        size_t cap_lots, cap_runs, cap_feeds;
        double days;
        uint64_t random;
};

/** history_make - Return: 0; -ENOMEM. Free with history_free() in either case. */
int history_make(struct history *h, double years, uint64_t seed);
void history_free(struct history *h);

/** The code of a lot as the ledger knows it: "B00000017". */
void history_lot_code(const struct history *h, size_t lot, char code[16]);
/** "H00001" */
void history_heat_code(uint32_t heat, char code[16]);

struct history_figures {
        size_t entries, bytes; /* of what was sent */
        double seconds;
};
struct kw_error;
/**
 * history_write - append a history to a ledger
 * @path: must not exist
 *
 * Return: 0; what the ledger said.
 */
int history_write(const struct history *h, const char *path, struct history_figures *out, struct kw_error *err);
/** history_print - what was made, one line a figure. */
void history_print(const struct history *h, const struct history_figures *figures);

#endif

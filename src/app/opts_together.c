#include <string.h>

#include "event_sinks.h"
#include "opts.h"

/* Options that only make sense together. */
enum oxl_status oxl_opts_together(const struct oxl_opts *o, struct oxl_error *err)
{
    bool sim_port = o->port && strncmp(o->port, "sim:", 4) == 0;
    if ((o->command == OXL_CMD_RUN || o->command == OXL_CMD_INSPECT) && o->virtual_time &&
        !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--virtual-time works only with --port sim:SCENARIO");
    if (o->command == OXL_CMD_RUN && o->truth && !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--truth works only with --port sim:SCENARIO");
    if (o->command == OXL_CMD_RUN && o->packet_ms && !sim_port)
        return oxl_fail(err, OXL_ERR_USAGE, "--packets works only with --port sim:SCENARIO");
    if (o->samples && !o->json)
        return oxl_fail(err, OXL_ERR_USAGE, "--samples goes with --json");
    if (o->by_hand && (o->json || o->plain || o->virtual_time))
        return oxl_fail(err, OXL_ERR_USAGE, "--by-hand needs the dashboard");
    if (o->files_n > 2 && (o->format == OXL_FORMAT_HTML || o->format == OXL_FORMAT_PDF))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "html and pdf are one page of one recording, or of two to compare: found "
                        "%zu files",
                        o->files_n);
    if (o->command == OXL_CMD_IMPORT && !o->columns)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "import needs --columns time=NAME,front=NAME,rear=NAME,stft=NAME: try "
                        "oxylag import --help");
    if (o->answers && !o->quiz)
        return oxl_fail(err, OXL_ERR_USAGE, "--answers goes with --quiz");
    if (o->trainee && !o->quiz)
        return oxl_fail(err, OXL_ERR_USAGE, "--trainee goes with --quiz");
    if (o->command == OXL_CMD_REPORT && !o->history && o->files_n == 0)
        return oxl_fail(err, OXL_ERR_USAGE, "report needs a recording: oxylag report FILE...");
    if (o->history &&
        (o->files_n > 1 || o->format == OXL_FORMAT_JSON || o->format == OXL_FORMAT_CSV))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "--history is a page, as text, html or pdf, of one folder: oxylag "
                        "recordings --vin has the rows");
    if (o->command == OXL_CMD_LESSONS && o->csv && !o->class)
        return oxl_fail(err, OXL_ERR_USAGE, "--csv is a table of the class: it goes with --class");
    if (o->quiz && o->samples)
        return oxl_fail(err, OXL_ERR_USAGE, "--quiz keeps the samples to itself: no --samples");
    if (o->command == OXL_CMD_RECORDINGS && o->files_n > 1 && !o->check)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "one folder is listed at a time; files go with --check");
    if (o->csv && (o->json || o->check))
        return oxl_fail(err, OXL_ERR_USAGE, "--csv goes neither with --json nor with --check");
    if (o->command == OXL_CMD_SIMULATE && !o->listen)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "simulate needs --listen tcp:HOST:PORT or --listen pty");
    return oxl_hearing_check(o, err);
}

/* An outside check of the ISO 15765-2 reassembly: tshark reads the same frames from a capture
 * file and must see the same payloads. One ECU's frames after the other, because tshark joins
 * only those; our own interleaved case is in test_can.c. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"

enum { MESSAGES = 60, FRAMES_MAX = 40, PAYLOAD_MAX = 200 };

struct sent {
    uint32_t id;
    bool wide;
    size_t len;
    uint8_t payload[PAYLOAD_MAX];
};
static struct sent sent[MESSAGES];

static void generate(uint32_t seed)
{
    for (size_t i = 0; i < MESSAGES; i++) {
        struct sent *s = &sent[i];
        s->wide = i % 2;
        s->id =
            s->wide ? 0x18DAF100U + (tap_random(&seed) & 0xFF) : 0x7E8U + (tap_random(&seed) & 7);
        /* The edges of the frame kinds first, then anything. */
        static const size_t edges[] = {1, 7, 8, 6, 13, 14, 2, 20, 200, 118, 119, 9};
        s->len = i < 24 ? edges[i / 2] : 1 + tap_random(&seed) % PAYLOAD_MAX;
        for (size_t k = 0; k < s->len; k++)
            s->payload[k] = (uint8_t)(tap_random(&seed) >> 8);
    }
}

static void put_u32_le(FILE *f, uint32_t v)
{
    for (int i = 0; i < 32; i += 8)
        fputc((int)(v >> i & 0xFF), f);
}

/* Classic pcap, link type 227: SocketCAN, identifier big-endian, bit 31 for 29 bits. */
static void pcap_header(FILE *f)
{
    static const uint8_t head[24] = {0xD4, 0xC3, 0xB2, 0xA1, 2,    0,    4, 0, 0,    0, 0, 0,
                                     0,    0,    0,    0,    0xFF, 0xFF, 0, 0, 0xE3, 0, 0, 0};
    fwrite(head, 1, sizeof head, f);
}

static void pcap_frame(FILE *f, uint32_t t_ms, uint32_t id, bool wide, const uint8_t *data)
{
    uint32_t raw = id | (wide ? 0x80000000U : 0);
    put_u32_le(f, t_ms / 1000);
    put_u32_le(f, t_ms % 1000 * 1000);
    put_u32_le(f, 16);
    put_u32_le(f, 16);
    for (int i = 24; i >= 0; i -= 8)
        fputc((int)(raw >> i & 0xFF), f);
    fputc(8, f);
    for (int i = 0; i < 3; i++)
        fputc(0, f);
    fwrite(data, 1, 8, f);
}

/* Writes the capture, and the same frames as adapter text into both of our wires. */
static void send_all(FILE *pcap, struct tap *narrow, struct tap *wide)
{
    uint32_t t_ms = 0;
    for (size_t i = 0; i < MESSAGES; i++) {
        uint8_t frames[FRAMES_MAX][9];
        size_t n =
            tap_segment(sent[i].payload, sent[i].len, (uint8_t)(i * 0x55), frames, FRAMES_MAX);
        for (size_t k = 0; k < n; k++, t_ms++) {
            char line[64];
            pcap_frame(pcap, t_ms, sent[i].id, sent[i].wide, frames[k] + 1);
            tap_can_line(line, sent[i].id, sent[i].wide, frames[k] + 1, 8, i % 3 == 0);
            tap_feed(sent[i].wide ? wide : narrow, line, t_ms);
        }
    }
}

/* tshark's payloads, one a line as "id payload": of single frames and of last frames. */
static size_t ask_tshark(const char *path, char lines[][2 * PAYLOAD_MAX + 32], size_t max)
{
    char command[512];
    snprintf(command, sizeof command,
             "LC_ALL=C.UTF-8 tshark -n -r %s -d can.subdissector,iso15765 "
             "-d iso15765.subdissector,data -T fields -E separator=, -E occurrence=l -e can.id "
             "-e iso15765.message_type -e iso15765.reassembled.length -e data.data 2>/dev/null",
             path);
    FILE *p = popen(command, "r");
    assert_non_null(p);
    char row[4096];
    size_t n = 0;
    while (fgets(row, sizeof row, p)) {
        unsigned id;
        unsigned type;
        char len[16] = "";
        char data[2 * PAYLOAD_MAX + 16] = "";
        row[strcspn(row, "\n")] = '\0';
        int got = sscanf(row, "%u,%i,%15[0-9],%415s", &id, (int *)&type, len, data);
        if (got < 4 && sscanf(row, "%u,%i,,%415s", &id, (int *)&type, data) != 3)
            continue;
        if (type != 0 && len[0] == '\0')
            continue; /* part of a long message, not its end */
        assert_true(n < max);
        snprintf(lines[n++], 2 * PAYLOAD_MAX + 32, "%X %s", id, data);
    }
    if (pclose(p) != 0)
        fail_msg("tshark failed or is not installed (package tshark); tests/run.sh installs it");
    return n;
}

static void payloads_are_what_tshark_sees(void **state)
{
    (void)state;
    if (system("command -v tshark >/dev/null 2>&1") != 0)
        fail_msg("tshark is not installed (package tshark); tests/run.sh installs it");
    static char seen[MESSAGES + 8][2 * PAYLOAD_MAX + 32];
    char path[] = "/tmp/oxylag_wire_XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *pcap = fdopen(fd, "wb");
    assert_non_null(pcap);
    struct tap *taps[2] = {tap_new(OXL_PROTO_CAN11_500), tap_new(OXL_PROTO_CAN29_500)};
    generate(20240607);
    pcap_header(pcap);
    send_all(pcap, taps[0], taps[1]);
    assert_int_equal(fclose(pcap), 0);
    size_t n = ask_tshark(path, seen, MESSAGES + 8);
    unlink(path);
    assert_int_equal(n, MESSAGES);
    const char *at[2] = {taps[0]->log, taps[1]->log};
    for (size_t i = 0; i < MESSAGES; i++) {
        const char **a = &at[sent[i].wide];
        size_t len = strcspn(*a, "\n");
        char ours[2 * PAYLOAD_MAX + 32];
        assert_true(len > 2 && len < sizeof ours);
        snprintf(ours, sizeof ours, "%.*s", (int)(len - 2), *a + 2);
        for (char *c = seen[i]; *c; c++)
            *c = *c >= 'a' && *c <= 'f' ? (char)(*c - 'a' + 'A') : *c;
        assert_string_equal(ours, seen[i]);
        *a += len + 1;
    }
    assert_string_equal(at[0], "");
    assert_string_equal(at[1], "");
    tap_free(taps[0]);
    tap_free(taps[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(payloads_are_what_tshark_sees),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

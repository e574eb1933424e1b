/* A folder of kept inputs through a fuzz target, then some thousand that are made of them by
 * chance: the short fuzzing of every test run, in every build. (The long one is libFuzzer's:
 * tests/support/fuzz.sh.) fuzz_WHAT FOLDER [MUTANTS]    an input that breaks it stays in
 * fuzz_WHAT.input */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { LARGEST = 1 << 20, KEPT = 4096, LONGEST_S = 2 };

static struct {
    uint8_t *data;
    size_t n;
} kept[KEPT];
static size_t kept_n;
static uint64_t dice = 1;

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int keep_file(const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f)
        return -1;
    static uint8_t buf[LARGEST];
    size_t n = fread(buf, 1, sizeof buf, f);
    fclose(f);
    /* An exact-size copy, so that the sanitizer sees a read past the end. */
    uint8_t *copy = malloc(n ? n : 1);
    if (!copy || kept_n == KEPT)
        exit(1);
    memcpy(copy, buf, n);
    kept[kept_n].data = copy;
    kept[kept_n++].n = n;
    return 0;
}

static size_t chance(size_t n)
{
    dice = dice * 6364136223846793005u + 1442695040888963407u;
    return n ? (size_t)(dice >> 33) % n : 0;
}

/* One change: a bit, a byte, a piece that goes, a piece of another input that comes in. */
static size_t change(uint8_t *data, size_t n)
{
    size_t at = chance(n), other = chance(kept_n), from = chance(kept[other].n), len;
    switch (chance(4)) {
    case 0:
        if (n)
            data[at] ^= (uint8_t)(1u << chance(8));
        return n;
    case 1:
        if (n)
            data[at] = (uint8_t) "\0\r\n>\xff\x7f\x80 ,\"{-0"[chance(13)];
        return n;
    case 2:
        len = chance(n - at < 64 ? n - at + 1 : 64);
        memmove(data + at, data + at + len, n - at - len);
        return n - len;
    default:
        len = chance(kept[other].n - from < 256 ? kept[other].n - from + 1 : 256);
        if (n + len > LARGEST)
            return n;
        memmove(data + at + len, data + at, n - at);
        memcpy(data + at, kept[other].data + from, len);
        return n + len;
    }
}

static void mutant(const char *path)
{
    static uint8_t buf[LARGEST];
    size_t of = chance(kept_n), n = kept[of].n;
    memcpy(buf, kept[of].data, n);
    for (size_t changes = 1 + chance(6); changes; changes--)
        n = change(buf, n);
    FILE *f = fopen(path, "wb");
    if (!f || fwrite(buf, 1, n, f) != n || fclose(f))
        exit(1);
    uint8_t *copy = malloc(n ? n : 1);
    if (!copy)
        exit(1);
    memcpy(copy, buf, n);
    LLVMFuzzerTestOneInput(copy, n);
    free(copy);
}

static int by_bytes(const void *a, const void *b)
{
    const char *const *x = a, *const *y = b;
    return strcmp(*x, *y);
}

/* In an order that is the same everywhere, so that the mutants are. */
static int keep_folder(const char *folder)
{
    static char *names[KEPT];
    size_t n = 0;
    DIR *d = opendir(folder);
    if (!d)
        return -1;
    for (struct dirent *e; (e = readdir(d)) && n < KEPT;)
        if (e->d_name[0] != '.')
            names[n++] = strdup(e->d_name);
    closedir(d);
    qsort(names, n, sizeof names[0], by_bytes);
    for (size_t i = 0; i < n; i++) {
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        keep_file(path);
        free(names[i]);
    }
    return 0;
}

int main(int argc, char **argv)
{
    if (argc < 2 || keep_folder(argv[1]) != 0) {
        fprintf(stderr, "%s: no such corpus folder\n", argc < 2 ? "" : argv[1]);
        return 1;
    }
    for (size_t i = 0; i < kept_n; i++)
        LLVMFuzzerTestOneInput(kept[i].data, kept[i].n);
    /* So much time of the processor, not of the clock: a busy machine gets as far. */
    long wanted = argc > 2 ? strtol(argv[2], NULL, 10) : 0, made = 0;
    clock_t end = clock() + (clock_t)LONGEST_S * CLOCKS_PER_SEC;
    char path[4096];
    snprintf(path, sizeof path, "%s.input", argv[0]);
    while (kept_n && made < wanted && clock() < end) {
        mutant(path);
        made++;
    }
    remove(path);
    for (size_t i = 0; i < kept_n; i++)
        free(kept[i].data);
    printf("%zu inputs replayed, %ld made of them\n", kept_n, made);
    return kept_n > 0 ? 0 : 1;
}

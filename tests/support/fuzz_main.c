/* Replays a folder of kept inputs through a fuzz target: the corpus run of every test run. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int run_file(const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f)
        return -1;
    static uint8_t buf[1 << 20];
    size_t n = fread(buf, 1, sizeof buf, f);
    fclose(f);
    /* An exact-size copy, so that the sanitizer sees a read past the end. */
    uint8_t *copy = malloc(n ? n : 1);
    if (!copy)
        return -1;
    memcpy(copy, buf, n);
    LLVMFuzzerTestOneInput(copy, n);
    free(copy);
    return 0;
}

int main(int argc, char **argv)
{
    size_t ran = 0;
    for (int i = 1; i < argc; i++) {
        DIR *d = opendir(argv[i]);
        if (!d) {
            fprintf(stderr, "%s: no such corpus folder\n", argv[i]);
            return 1;
        }
        for (struct dirent *e; (e = readdir(d));) {
            char path[4096];
            if (e->d_name[0] == '.')
                continue;
            snprintf(path, sizeof path, "%s/%s", argv[i], e->d_name);
            if (run_file(path) == 0)
                ran++;
        }
        closedir(d);
    }
    printf("%zu inputs replayed\n", ran);
    return ran > 0 ? 0 : 1;
}

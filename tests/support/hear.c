/* Prints what is heard in a WAV file: seconds from its beginning, and the name of each cue or tick.
 *   hear FILE */
#include <stdio.h>
#include <stdlib.h>

#include "listen.h"

enum { HEADER = 44, MOST_S = 600, CALLS = 4096 };

int main(int argc, char **argv)
{
    static struct heard heard[CALLS];
    FILE *f = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (!f || fseek(f, HEADER, SEEK_SET) != 0)
        return 2;
    const size_t most = (size_t)MOST_S * LISTEN_HZ;
    unsigned char *bytes = malloc(2 * most);
    int16_t *samples = malloc(most * sizeof *samples);
    if (!bytes || !samples)
        return 2;
    size_t n = fread(bytes, 2, most, f);
    for (size_t i = 0; i < n; i++)
        samples[i] = (int16_t)(bytes[2 * i] | bytes[2 * i + 1] << 8);
    size_t count = listen_to(samples, n, heard, CALLS);
    for (size_t i = 0; i < count; i++)
        printf("%.3f %s\n", heard[i].at_s, heard[i].what);
    printf("%.3f end\n", (double)n / LISTEN_HZ);
    fclose(f);
    free(bytes);
    free(samples);
    return 0;
}

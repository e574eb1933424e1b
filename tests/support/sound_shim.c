/* An audio library whose opening hangs for as long as any test lasts: put before the real one. */
#include <unistd.h>

int Pa_Initialize(void);

int Pa_Initialize(void)
{
    for (;;)
        sleep(1000);
}

#include "oxylag/sound.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "mixer.h"
#include "oxylag/out.h"
#include "pace.h"

/* BLOCK: 10 ms. LATE: what has waited longer would be a wrong call. DEPTH: how long a depth holds
 * when no other comes. SPOKEN: a sentence is ready by then or not spoken. */
enum {
    BLOCK = OXL_PIECE,
    LATE_US = 300000,
    DEPTH_US = 500000,
    SPOKEN_US = 1000000,
    SPEECH_MAX = 6 * OXL_SOUND_HZ,
    LEAVE_MS = 50
};

enum progress { OPENING, PLAYING, GONE };

struct speech_made {
    int16_t *samples; /* NULL: none */
    size_t n;
    unsigned words_n; /* of which words */
};

/* Owned by the caller and the threads; whoever leaves last frees it, since a device may hang for
 * ever. The lock is held for a moment only, never over a call of a library. */
struct oxl_sound {
    pthread_mutex_t lock;
    pthread_cond_t change; /* new words, or an owner less */
    int owners;
    bool quit, left, muted; /* left: nobody waits for the end of what sounds any more */
    enum progress progress;
    int64_t beat_us; /* when the sink took the last block */
    /* What is to be heard: there is one place for each, so that nothing piles up. */
    enum oxl_cue cue;
    int64_t cue_us;
    double depth;
    int64_t depth_us;
    char words[96];
    unsigned words_n; /* how often they have changed */
    int64_t words_us;
    struct speech_made made;
    /* The threads' own. */
    struct oxl_sound_sink sink;
    struct oxl_mixer mixer;
    struct speech_made spoken;
    struct oxl_sound_voice voice;
};

/* Called with the lock held; gives it up. */
static void let_go(struct oxl_sound *s)
{
    bool last = --s->owners == 0;
    pthread_cond_broadcast(&s->change);
    pthread_mutex_unlock(&s->lock);
    if (!last)
        return;
    pthread_cond_destroy(&s->change);
    pthread_mutex_destroy(&s->lock);
    free(s->made.samples);
    free(s->spoken.samples);
    free(s);
}

/* ---- the thread that plays ------------------------------------------------------------------- */
/* Speech that waited for a device that hung is left out, and so is what was overtaken. */
static void take_speech(struct oxl_sound *s, int64_t now_us)
{
    if (s->made.samples) {
        free(s->spoken.samples);
        s->spoken = s->made;
        s->made.samples = NULL;
        if (now_us - s->words_us < SPOKEN_US)
            oxl_mixer_speech(&s->mixer, s->spoken.samples, s->spoken.n);
    }
    if (s->spoken.words_n != s->words_n)
        oxl_mixer_speech(&s->mixer, NULL, 0);
}

/* With the lock held: what was left for the mixer since the last block. */
static void take_calls(struct oxl_sound *s, int64_t now_us)
{
    if (s->cue != OXL_CUE_NONE && now_us - s->cue_us < LATE_US)
        oxl_mixer_cue(&s->mixer, s->cue);
    s->cue = OXL_CUE_NONE;
    take_speech(s, now_us);
    oxl_mixer_depth(&s->mixer, now_us - s->depth_us < DEPTH_US ? s->depth : (double)NAN);
    if (s->muted)
        oxl_mixer_init(&s->mixer, s->mixer.volume);
}

/* With the lock held, which is let go while the sink takes its time. */
static bool one_block(struct oxl_sound *s)
{
    int16_t block[BLOCK];
    int64_t from_us = oxl_sound_now_us();
    take_calls(s, from_us);
    pthread_mutex_unlock(&s->lock);
    oxl_mixer_render(&s->mixer, block, BLOCK);
    bool good = s->sink.write(s->sink.ctx, block, BLOCK);
    pthread_mutex_lock(&s->lock);
    s->beat_us = oxl_sound_now_us();
    if (s->beat_us - from_us > LATE_US)
        oxl_mixer_init(&s->mixer, s->mixer.volume); /* the rest would come late */
    return good;
}

static void *play(void *ctx)
{
    struct oxl_sound *s = ctx;
    bool good = s->sink.open(s->sink.ctx);
    pthread_mutex_lock(&s->lock);
    s->progress = PLAYING;
    s->beat_us = oxl_sound_now_us();
    while (good && !s->left && !(s->quit && s->mixer.cue == OXL_CUE_NONE && s->cue == OXL_CUE_NONE))
        good = one_block(s);
    s->progress = GONE;
    pthread_mutex_unlock(&s->lock);
    s->sink.close(s->sink.ctx);
    pthread_mutex_lock(&s->lock);
    let_go(s);
    return NULL;
}

/* ---- the thread that speaks ------------------------------------------------------------------ */
struct sentence {
    struct oxl_sound *sound;
    unsigned words_n;
};

static bool is_overtaken(void *ctx)
{
    const struct sentence *of = ctx;
    pthread_mutex_lock(&of->sound->lock);
    bool so = of->sound->quit || of->sound->words_n != of->words_n;
    pthread_mutex_unlock(&of->sound->lock);
    return so;
}

/* With the lock held, which is let go while it is made. */
static void one_sentence(struct oxl_sound *s)
{
    struct sentence now = {s, s->words_n};
    char words[sizeof s->words];
    memcpy(words, s->words, sizeof words);
    pthread_mutex_unlock(&s->lock);
    int16_t *samples = malloc(SPEECH_MAX * sizeof *samples);
    size_t n =
        samples ? s->voice.speak(s->voice.ctx, words, samples, SPEECH_MAX, is_overtaken, &now) : 0;
    pthread_mutex_lock(&s->lock);
    if (n == 0 || s->words_n != now.words_n || oxl_sound_now_us() - s->words_us > SPOKEN_US) {
        free(samples);
        return;
    }
    free(s->made.samples);
    s->made = (struct speech_made){samples, n, now.words_n};
}

static void *speak(void *ctx)
{
    struct oxl_sound *s = ctx;
    unsigned done_n = 0;
    bool good = s->voice.open(s->voice.ctx);
    pthread_mutex_lock(&s->lock);
    while (good && !s->quit) {
        bool news = s->words_n != done_n && s->words[0];
        done_n = s->words_n;
        if (news)
            one_sentence(s);
        else
            pthread_cond_wait(&s->change, &s->lock);
    }
    pthread_mutex_unlock(&s->lock);
    s->voice.close(s->voice.ctx);
    pthread_mutex_lock(&s->lock);
    let_go(s);
    return NULL;
}

/* ---- the caller ------------------------------------------------------------------------------ */
/* A thread that cannot be started leaves what it would have closed. */
static bool start(struct oxl_sound *s, void *(*work)(void *))
{
    pthread_t thread;
    s->owners++;
    if (oxl_thread_start(&thread, work, s) == 0)
        return pthread_detach(thread) == 0;
    s->owners--;
    return false;
}

struct oxl_sound *oxl_sound_open(const struct oxl_sound_sink *sink,
                                 const struct oxl_sound_voice *voice, double volume_pct)
{
    struct oxl_sound *s = calloc(1, sizeof *s);
    if (!s) {
        sink->close(sink->ctx);
        if (voice)
            voice->close(voice->ctx);
        return NULL;
    }
    pthread_condattr_t by_monotonic;
    pthread_condattr_init(&by_monotonic);
    pthread_condattr_setclock(&by_monotonic, CLOCK_MONOTONIC);
    pthread_cond_init(&s->change, &by_monotonic);
    pthread_condattr_destroy(&by_monotonic);
    pthread_mutex_init(&s->lock, NULL);
    s->sink = *sink;
    s->owners = 1;
    s->depth = NAN;
    oxl_mixer_init(&s->mixer, volume_pct / 100);
    pthread_mutex_lock(&s->lock);
    if (!start(s, play)) {
        s->progress = GONE;
        sink->close(sink->ctx);
    }
    if (voice) {
        s->voice = *voice;
        if (!start(s, speak))
            voice->close(voice->ctx);
    }
    pthread_mutex_unlock(&s->lock);
    return s;
}

void oxl_sound_call(struct oxl_sound *s, enum oxl_cue cue, const char *words)
{
    pthread_mutex_lock(&s->lock);
    if (cue != OXL_CUE_NONE && !s->muted &&
        (oxl_cue_is_urgent(cue) || !oxl_cue_is_urgent(s->cue))) {
        s->cue = cue;
        s->cue_us = oxl_sound_now_us();
    }
    if (words && !s->muted) {
        snprintf(s->words, sizeof s->words, "%s", words);
        s->words_n++;
        s->words_us = oxl_sound_now_us();
        pthread_cond_broadcast(&s->change);
    }
    pthread_mutex_unlock(&s->lock);
}

void oxl_sound_depth(struct oxl_sound *s, double depth)
{
    pthread_mutex_lock(&s->lock);
    s->depth = depth;
    s->depth_us = oxl_sound_now_us();
    pthread_mutex_unlock(&s->lock);
}

void oxl_sound_mute(struct oxl_sound *s, bool muted)
{
    pthread_mutex_lock(&s->lock);
    if (muted && !s->muted) {
        s->words[0] = '\0';
        s->words_n++;
    }
    s->muted = muted;
    pthread_mutex_unlock(&s->lock);
}

/* With the lock held. */
static bool is_heard(const struct oxl_sound *s)
{
    return s->progress == PLAYING && oxl_sound_now_us() - s->beat_us < LATE_US;
}

bool oxl_sound_is_heard(struct oxl_sound *s)
{
    pthread_mutex_lock(&s->lock);
    bool so = is_heard(s);
    pthread_mutex_unlock(&s->lock);
    return so;
}

bool oxl_sound_is_gone(struct oxl_sound *s)
{
    pthread_mutex_lock(&s->lock);
    bool so = s->progress == GONE;
    pthread_mutex_unlock(&s->lock);
    return so;
}

void oxl_sound_close(struct oxl_sound *s, int limit_ms)
{
    if (!s)
        return;
    pthread_mutex_lock(&s->lock);
    s->quit = true;
    pthread_cond_broadcast(&s->change);
    int64_t until_us = oxl_sound_now_us() + INT64_C(1000) * (is_heard(s) ? limit_ms : LEAVE_MS);
    struct timespec until = {(time_t)(until_us / 1000000), (long)(until_us % 1000000) * 1000};
    for (int late = 0; s->owners > 1 && !late;)
        late = pthread_cond_timedwait(&s->change, &s->lock, &until);
    s->left = true;
    let_go(s);
}

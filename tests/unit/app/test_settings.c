/* Settings: kept and read again, options over them, and every bad file in no one's way. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/opts.h"
#include "app/settings.h"
#include "oxylag/sound.h"

static char home[32], path[100];
static struct oxl_settings s;
static struct oxl_error err;

static int new_home(void **state)
{
    (void)state;
    strcpy(home, "/tmp/oxl-set-XXXXXX");
    unsetenv("XDG_DATA_HOME");
    if (!mkdtemp(home) || setenv("HOME", home, 1) || setenv("XDG_CONFIG_HOME", home, 1))
        return -1;
    snprintf(path, sizeof path, "%s/oxylag/settings.ini", home);
    memset(&s, 0, sizeof s);
    err.text[0] = '\0';
    return 0;
}

static int drop_home(void **state)
{
    char command[100];
    (void)state;
    snprintf(command, sizeof command, "chmod -R u+rwx %s; rm -rf %s", home, home);
    return system(command); /* NOLINT(cert-env33-c): a folder of this test */
}

static void write_file(const char *text)
{
    char folder[100];
    snprintf(folder, sizeof folder, "%s/oxylag", home);
    mkdir(folder, 0700);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}

static void what_is_kept_is_read_again(void **state)
{
    (void)state;
    struct stat st;
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK); /* no file is no error */
    strcpy(s.value[OXL_SET_TECHNICIAN], "J\xC3\xBCrgen; bay 3");
    strcpy(s.value[OXL_SET_THEME], "dark");
    strcpy(s.value[OXL_SET_MASK_VIN], "yes");
    assert_int_equal(oxl_settings_save(&s, &err), OXL_OK);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 077, 0);
    assert_int_equal(oxl_settings_save(&s, &err), OXL_OK); /* over the one that is there */
    char left[120];                                        /* of a save that was killed */
    snprintf(left, sizeof left, "%s.new", path);
    assert_int_equal(link(path, left), 0);
    assert_int_equal(oxl_settings_save(&s, &err), OXL_OK);
    struct oxl_settings again;
    assert_int_equal(oxl_settings_load(&again, &err), OXL_OK);
    for (int i = 0; i < OXL_SETTINGS; i++)
        assert_string_equal(again.value[i], s.value[i]);
}

static struct oxl_opts parse(int argc, char **argv)
{
    struct oxl_opts o;
    if (oxl_opts_parse(argc, argv, &s, &o, &err) != OXL_OK)
        fail_msg("%s", err.text);
    return o;
}

static void they_act_as_options_and_options_win(void **state)
{
    (void)state;
    char a[] = "oxylag", run[] = "run", theme[] = "--theme=light", who[] = "--technician=Lee",
         ports[] = "ports";
    write_file("technician = Kim\ntheme = dark\nmask-vin = yes\n");
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK);
    struct oxl_opts o = parse(2, (char *[]){a, run, NULL});
    assert_string_equal(o.technician, "Kim");
    assert_int_equal(o.theme, OXL_THEME_DARK);
    assert_true(o.mask_vin);
    o = parse(4, (char *[]){a, run, theme, who, NULL});
    assert_string_equal(o.technician, "Lee");
    assert_int_equal(o.theme, OXL_THEME_LIGHT);
    o = parse(2, (char *[]){a, ports, NULL}); /* takes none of them */
    assert_null(o.technician);
    write_file("mask-vin = no\n");
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK);
    o = parse(2, (char *[]){a, run, NULL});
    assert_false(o.mask_vin);
}

/* Sound off is no more than that: chatter and progress stay. A voice that is not built in is no
 * setting, and stops no test. */
static void sound_and_voice_are_their_options(void **state)
{
    (void)state;
    char a[] = "oxylag", demo[] = "demo", on[] = "--sound=on";
    write_file("sound = off\nvolume = 30\nascii = yes\n");
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK);
    struct oxl_opts o = parse(2, (char *[]){a, demo, NULL});
    assert_string_equal(o.sound, "off");
    assert_int_equal(o.volume_pct, 30);
    assert_true(o.ascii);
    assert_false(o.quiet);
    assert_false(o.voice);
    o = parse(3, (char *[]){a, demo, on, NULL});
    assert_string_equal(o.sound, "on");
    write_file("voice = yes\ntechnician = Kim\n");
    const enum oxl_status st = oxl_settings_load(&s, &err);
    o = parse(2, (char *[]){a, demo, NULL});
    assert_string_equal(o.technician, "Kim");
    struct oxl_sound_voice voice;
    const bool built = oxl_sound_speech(&voice);
    if (built)
        voice.close(voice.ctx);
    assert_int_equal(o.voice, built);
    assert_int_equal(st, built ? OXL_OK : OXL_ERR_FORMAT);
    if (!built)
        assert_non_null(strstr(err.text, "voice: this program was built without a voice"));
}

/* One line that names the line and what to do; what can be read counts. */
static void a_bad_file_is_said_and_no_more(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } bad[] = {
        {"technician = Kim\ntheme = pink\n", "line 2: theme: found \"pink\""},
        {"technician = Kim\nwhat = ever\n", "line 2: there is no setting \"what\""},
        {"technician = Kim\nnonsense\n", "line 2: expected \"name = value\""},
        {"voice = loud\ntechnician = Kim\n", "line 1: voice: found \"loud\", expected yes or no"},
        {"sound = loud\ntechnician = Kim\n", "line 1: sound: found \"loud\", expected on"},
        {"folder = here\ntechnician = Kim\n", "line 1: folder: found \"here\", expected a path"},
        {"\n; a note\nvolume =\ntechnician = Kim\n", "line 3: a value is missing"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        write_file(bad[i].text);
        assert_int_equal(oxl_settings_load(&s, &err), OXL_ERR_FORMAT);
        if (!strstr(err.text, bad[i].says) || !strstr(err.text, "delete the file") ||
            !strstr(err.text, path))
            fail_msg("\"%s\" lacks \"%s\"", err.text, bad[i].says);
        assert_string_equal(s.value[OXL_SET_TECHNICIAN], "Kim");
    }
}

static void no_text_is_a_setting(void **state)
{
    (void)state;
    write_file("");
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK);
    FILE *f = fopen(path, "w");
    fwrite("technician = \0Kim\n", 1, 18, f);
    fclose(f);
    assert_int_equal(oxl_settings_load(&s, &err), OXL_ERR_FORMAT);
    unlink(path);
    assert_int_equal(mkdir(path, 0700), 0); /* a folder of that name */
    assert_int_equal(oxl_settings_load(&s, &err), OXL_ERR_FORMAT);
    assert_int_equal(oxl_settings_save(&s, &err), OXL_ERR_IO);
    rmdir(path);
}

static void without_a_home_nothing_is_kept(void **state)
{
    (void)state;
    char folder[1000];
    unsetenv("HOME");
    unsetenv("XDG_CONFIG_HOME");
    assert_int_equal(oxl_settings_load(&s, &err), OXL_OK);
    assert_string_equal(s.path, "");
    assert_int_equal(oxl_settings_save(&s, &err), OXL_ERR_IO);
    assert_non_null(strstr(err.text, "no home folder"));
    assert_int_equal(oxl_settings_folder(&s, folder, sizeof folder, &err), OXL_ERR_IO);
    assert_non_null(strstr(err.text, "name one in the settings"));
}

static void recordings_have_a_folder(void **state)
{
    (void)state;
    char folder[1000], want[200];
    struct stat st;
    snprintf(want, sizeof want, "%s/.local/share/oxylag", home);
    assert_int_equal(oxl_settings_folder(&s, folder, sizeof folder, &err), OXL_OK);
    assert_string_equal(folder, want);
    assert_true(stat(folder, &st) == 0 && S_ISDIR(st.st_mode));
    snprintf(s.value[OXL_SET_FOLDER], OXL_SETTING_BYTES, "%s/own/below", home);
    assert_int_equal(oxl_settings_folder(&s, folder, sizeof folder, &err), OXL_OK);
    assert_string_equal(folder, s.value[OXL_SET_FOLDER]);
    strcpy(s.value[OXL_SET_FOLDER], "/proc/none"); /* nobody may make that, root neither */
    assert_int_equal(oxl_settings_folder(&s, folder, sizeof folder, &err), OXL_ERR_IO);
    assert_non_null(strstr(err.text, "name another folder"));
}

int main(void)
{
#define HOME(test) cmocka_unit_test_setup_teardown(test, new_home, drop_home)
    const struct CMUnitTest tests[] = {
        HOME(what_is_kept_is_read_again),
        HOME(they_act_as_options_and_options_win),
        HOME(sound_and_voice_are_their_options),
        HOME(a_bad_file_is_said_and_no_more),
        HOME(no_text_is_a_setting),
        HOME(without_a_home_nothing_is_kept),
        HOME(recordings_have_a_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

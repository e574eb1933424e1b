/* A form: fields to fill in, words to choose from, buttons. Each field says what is wrong with it
 * while it is typed. Pure: keys in, a drawing out. */
#ifndef OXYLAG_UI_FORM_H
#define OXYLAG_UI_FORM_H

#include "plot.h"

enum oxl_field_kind { OXL_FIELD_TEXT, OXL_FIELD_CHOICE, OXL_FIELD_BUTTON };
enum { OXL_FIELD_BYTES = 512 };

struct oxl_field {
    enum oxl_field_kind kind;
    const char *label;
    const char *hint;         /* beneath the form while this field is the one */
    const char *const *words; /* CHOICE */
    size_t words_n;
    int id; /* which one it is to its owner */
    /* TEXT: false with the reason in why. NULL: anything will do. */
    bool (*check)(int id, const char *text, char *why, size_t n);
    char text[OXL_FIELD_BYTES]; /* TEXT: UTF-8 */
    size_t word;                /* CHOICE: which one */
};

struct oxl_form {
    struct oxl_field *fields; /* not owned */
    size_t n;
    /* state; 0 at the start */
    size_t at, first;
    struct oxl_area rows; /* where the fields were drawn */
};

enum oxl_form_did { OXL_FORM_NOTHING, OXL_FORM_USED, OXL_FORM_PRESSED };

/* PRESSED: fields[at] is a button, and was pressed. */
enum oxl_form_did oxl_form_key(struct oxl_form *f, int key);
enum oxl_form_did oxl_form_click(struct oxl_form *f, int row, int col);
/* What is wrong with a field; false: nothing. */
bool oxl_field_fault(const struct oxl_field *f, char *why, size_t n);
/* The first field with a fault, which becomes the one that is filled in; false: there is none. */
bool oxl_form_go_to_fault(struct oxl_form *f);
/* Beneath the fields two rows for the fault, or the hint. */
void oxl_form_draw(struct oxl_form *f, struct oxl_canvas *c, struct oxl_area a);

#endif

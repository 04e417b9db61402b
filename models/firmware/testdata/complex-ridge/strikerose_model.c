/* Arithmetic of the detector complex-ridge (form few) for rig bag-r3.
 * Written by strikerose; do not edit, export again. */
#include "strikerose_model.h"
#include "strikerose_table.h"

#include <math.h>

#if defined(__FINITE_MATH_ONLY__) && __FINITE_MATH_ONLY__
#error "compile without -ffast-math: the tests for NAN would vanish"
#endif

void strikerose_estimate(const float feature[STRIKEROSE_FEATURES], strikerose_answer *answer)
{
    /* A value that is no number, or beyond what any sensor reads, counts
     * as 0. Where the answer needs it, the answer is a guess. */
    int whole = 1;
    float value[STRIKEROSE_FEATURES];
    for (int k = 0; k < STRIKEROSE_FEATURES; k++) {
        value[k] = feature[k];
        if (!(fabsf(feature[k]) <= 1e+09f)) {
            value[k] = 0.0f;
            if (k < STRIKEROSE_NEEDED) {
                whole = 0;
            }
        }
    }

    /* Direction (ratio_x, ratio_y): a weighted sum of the horizontal
     * vectors, x toward bearing 90 and y toward bearing 0. */
    float ratio_x = 0.0f;
    float ratio_y = 0.0f;
    for (int k = 0; k < VECTORS; k++) {
        ratio_x += PUSH[k] * value[2 * k];
        ratio_y += PUSH[k] * value[2 * k + 1];
    }

    /* First direction u: likewise, with weights of its own. */
    float u_x = 0.0f;
    float u_y = 0.0f;
    for (int k = 0; k < VECTORS; k++) {
        u_x += FIRST[k] * value[2 * k];
        u_y += FIRST[k] * value[2 * k + 1];
    }
    const float u_length = hypotf(u_x, u_y);
    if (u_length > 0.0f) {
        u_x = u_x / u_length;
        u_y = u_y / u_length;
    } else {
        u_x = 0.0f;
        u_y = 1.0f;
    }

    /* What changes its sign in a mirror turns the direction clockwise
     * from u. */
    float odd = 0.0f;
    for (int k = 0; k < ODD; k++) {
        odd += PUSH_ODD[k] * value[STRIKEROSE_TWIST + k];
    }
    ratio_x += u_y * odd;
    ratio_y += -u_x * odd;

    /* What stays in a mirror makes the direction longer along u. */
    float even = 0.0f;
    for (int k = 0; k < EVEN; k++) {
        even += PUSH_EVEN[k] * value[STRIKEROSE_LIFT + k];
    }
    ratio_x += u_x * even;
    ratio_y += u_y * even;
    const float ratio_length = hypotf(ratio_x, ratio_y);
    if (!(ratio_length > 0.0f)) {
        ratio_x = 0.0f;
        ratio_y = 1.0f;
        whole = 0;
    }

    /* Height: two weighted sums of the parts along the direction, one
     * over the other. */
    float height_m = CENTRE_M;
    if (ratio_length > 0.0f) {
        const float along_x = ratio_x / ratio_length;
        const float along_y = ratio_y / ratio_length;
        float top = 0.0f;
        float bottom = 0.0f;
        for (int k = 0; k < VECTORS; k++) {
            const float along = value[2 * k] * along_x + value[2 * k + 1] * along_y;
            top += TOP[k] * along;
            bottom += BOTTOM[k] * along;
        }
        for (int k = 0; k < EVEN; k++) {
            top += TOP_EVEN[k] * value[STRIKEROSE_LIFT + k];
            bottom += BOTTOM_EVEN[k] * value[STRIKEROSE_LIFT + k];
        }
        const float least = FLOOR_SHARE * ratio_length;
        height_m = CENTRE_M + top / fmaxf(bottom, least);
        height_m = fminf(fmaxf(height_m, 0.0f), LENGTH_M);
    }

    /* A gyroscope that gives nothing leaves the kick's direction. */
    float q_x = ratio_x;
    float q_y = ratio_y;
    if (!whole && feature[STRIKEROSE_TIP_X] != feature[STRIKEROSE_TIP_X]) {
        q_x = -value[STRIKEROSE_KICK_X];
        q_y = -value[STRIKEROSE_KICK_Y];
        height_m = MIDDLE_M;
    }

    /* The bearing of q, clockwise from +y, in [0, 360). */
    float bearing_deg = atan2f(q_x, q_y) * DEGREES + YAW_DEG;
    if (!(fabsf(bearing_deg) <= 720.0f)) {
        bearing_deg = 0.0f;
        whole = 0;
    }
    if (bearing_deg < 0.0f) {
        bearing_deg += 360.0f;
    }
    if (bearing_deg >= 360.0f) {
        bearing_deg = bearing_deg - 360.0f;
    }

    /* How sure. */
    float bearing_sd_deg = BEARING_SD_DEG;
    float bearing_half90_deg = BEARING_HALF90_DEG;
    float height_sd_m = HEIGHT_SD_M;
    float height_half90_m = HEIGHT_HALF90_M;
    if (!whole) {
        bearing_sd_deg = fmaxf(bearing_sd_deg, GUESS_SD_DEG);
        bearing_half90_deg = 180.0f;
        height_sd_m = fmaxf(height_sd_m, GUESS_SD_M);
        height_half90_m = fmaxf(height_half90_m, GUESS_HALF90_M);
    }
    bearing_half90_deg = fminf(bearing_half90_deg, 180.0f);

    /* How hard the strike moved the bag: the sensor, or the centre of
     * mass. */
    float kick_mps = 0.0f;
    kick_mps = fmaxf(kick_mps, hypotf(value[STRIKEROSE_KICK_X], value[STRIKEROSE_KICK_Y]));
    kick_mps = fmaxf(kick_mps, hypotf(value[STRIKEROSE_CENTRE_KICK_X], value[STRIKEROSE_CENTRE_KICK_Y]));

    /* The answer. */
    answer->bearing_deg = bearing_deg;
    answer->height_m = height_m;
    answer->bearing_sd_deg = bearing_sd_deg;
    answer->bearing_half90_deg = bearing_half90_deg;
    answer->height_sd_m = height_sd_m;
    answer->height_half90_m = height_half90_m;
    answer->face = (int)((bearing_deg + HALF_FACE_DEG) / FACE_DEG) % FACES + 1;
    answer->unsure = !whole || bearing_half90_deg > HALF_FACE_DEG || kick_mps < WEAKEST_KICK_MPS;
}

/* Takes four bytes, lowest first, into a CRC-32 (reflected polynomial
 * 0xEDB88320). */
static uint32_t crc32_word(uint32_t crc, uint32_t word)
{
    for (int i = 0; i < 4; i++) {
        crc ^= (word >> (8 * i)) & UINT32_C(0xFF);
        for (int bit = 0; bit < 8; bit++) {
            crc = (crc & 1U) ? (crc >> 1) ^ UINT32_C(0xEDB88320) : crc >> 1;
        }
    }
    return crc;
}

static uint32_t crc32_floats(uint32_t crc, const float *number, int count)
{
    union {
        float number;
        uint32_t bits;
    } as;

    for (int i = 0; i < count; i++) {
        as.number = number[i];
        crc = crc32_word(crc, as.bits);
    }
    return crc;
}

uint32_t strikerose_table_crc32(void)
{
    uint32_t crc = UINT32_C(0xFFFFFFFF);

    crc = crc32_floats(crc, PUSH, VECTORS);
    crc = crc32_floats(crc, FIRST, VECTORS);
    crc = crc32_floats(crc, PUSH_ODD, ODD);
    crc = crc32_floats(crc, PUSH_EVEN, EVEN);
    crc = crc32_floats(crc, TOP, VECTORS);
    crc = crc32_floats(crc, BOTTOM, VECTORS);
    crc = crc32_floats(crc, &FLOOR_SHARE, 1);
    crc = crc32_floats(crc, &CENTRE_M, 1);
    crc = crc32_floats(crc, TOP_EVEN, EVEN);
    crc = crc32_floats(crc, BOTTOM_EVEN, EVEN);
    crc = crc32_floats(crc, &MIDDLE_M, 1);
    crc = crc32_floats(crc, &DEGREES, 1);
    crc = crc32_floats(crc, &YAW_DEG, 1);
    crc = crc32_floats(crc, &FACE_DEG, 1);
    crc = crc32_floats(crc, &HALF_FACE_DEG, 1);
    crc = crc32_floats(crc, &LENGTH_M, 1);
    crc = crc32_floats(crc, &BEARING_SD_DEG, 1);
    crc = crc32_floats(crc, &BEARING_HALF90_DEG, 1);
    crc = crc32_floats(crc, &HEIGHT_SD_M, 1);
    crc = crc32_floats(crc, &HEIGHT_HALF90_M, 1);
    crc = crc32_floats(crc, &WEAKEST_KICK_MPS, 1);
    crc = crc32_floats(crc, &GUESS_SD_DEG, 1);
    crc = crc32_floats(crc, &GUESS_SD_M, 1);
    crc = crc32_floats(crc, &GUESS_HALF90_M, 1);
    return ~crc;
}

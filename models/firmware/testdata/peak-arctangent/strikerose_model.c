/* Arithmetic of the detector peak-arctangent for rig bag-r3. Written by
 * strikerose; do not edit, export again. */
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

    /* The bearing lies against the largest push. */
    float q_x = -value[STRIKEROSE_PEAK_X];
    float q_y = -value[STRIKEROSE_PEAK_Y];
    float height_m = MIDDLE_M;
    if (q_x == 0.0f && q_y == 0.0f) {
        whole = 0;
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
    float log_scale = 0.0f;
    log_scale += DIFFICULTY_WEIGHT[0] * (logf(1.0f + hypotf(value[STRIKEROSE_PEAK_X], value[STRIKEROSE_PEAK_Y])) - DIFFICULTY_MEAN[0]);
    log_scale += DIFFICULTY_WEIGHT[1] * (logf(1.0f + fabsf(value[STRIKEROSE_SWING_BEFORE])) - DIFFICULTY_MEAN[1]);
    log_scale += DIFFICULTY_WEIGHT[2] * (fminf(fabsf(value[STRIKEROSE_VERTICAL_RATIO]), 2.0f) - DIFFICULTY_MEAN[2]);
    log_scale += DIFFICULTY_WEIGHT[3] * (0.0f - DIFFICULTY_MEAN[3]);
    log_scale += DIFFICULTY_WEIGHT[4] * (1.0f - fminf(fmaxf(value[STRIKEROSE_RECTILINEARITY], 0.0f), 1.0f) - DIFFICULTY_MEAN[4]);
    const float scale = fminf(fmaxf(expf(log_scale), DIFFICULTY_LOW), DIFFICULTY_HIGH);
    float bearing_sd_deg = BEARING_SD_DEG * scale;
    float bearing_half90_deg = BEARING_HALF90_DEG * scale;
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
    crc = crc32_floats(crc, DIFFICULTY_WEIGHT, TERMS);
    crc = crc32_floats(crc, DIFFICULTY_MEAN, TERMS);
    crc = crc32_floats(crc, &DIFFICULTY_LOW, 1);
    crc = crc32_floats(crc, &DIFFICULTY_HIGH, 1);
    crc = crc32_floats(crc, &GUESS_SD_DEG, 1);
    crc = crc32_floats(crc, &GUESS_SD_M, 1);
    crc = crc32_floats(crc, &GUESS_HALF90_M, 1);
    return ~crc;
}

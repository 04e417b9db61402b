/* Arithmetic of the detector complex-ridge (form accelerometer) for rig
 * bag-r3. Written by strikerose; do not edit, export again. */
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

    /* First direction u: a weighted sum of the vectors, x toward bearing
     * 90 and y toward bearing 0. */
    float u_x = 0.0f;
    float u_y = 0.0f;
    for (int k = 0; k < ALIGNED_VECTORS; k++) {
        u_x += FIRST[k] * value[2 * k];
        u_y += FIRST[k] * value[2 * k + 1];
    }
    const float first_length = hypotf(u_x, u_y);
    if (first_length > 0.0f) {
        u_x = u_x / first_length;
        u_y = u_y / first_length;
    } else {
        u_x = 0.0f;
        u_y = 1.0f;
    }

    /* The strike's size: root mean square of the vectors, each over its
     * usual size. */
    float square = 0.0f;
    for (int k = 0; k < ALIGNED_VECTORS; k++) {
        const float part_x = value[2 * k] * SIZE_INVERSE[k];
        const float part_y = value[2 * k + 1] * SIZE_INVERSE[k];
        square += part_x * part_x + part_y * part_y;
    }
    float size = sqrtf(square / 2.0f);
    if (!(size > 0.0f)) {
        size = 1.0f;
        whole = 0;
    }

    /* Features in the frame along u: of each vector the part along it
     * and the part clockwise of it, then the scalars, all over the
     * strike's size. */
    float aligned[ALIGNED];
    for (int k = 0; k < ALIGNED_VECTORS; k++) {
        const float part_x = value[2 * k] * SIZE_INVERSE[k];
        const float part_y = value[2 * k + 1] * SIZE_INVERSE[k];
        aligned[2 * k] = (part_y * u_y + part_x * u_x) / size;
        aligned[2 * k + 1] = (part_x * u_y - part_y * u_x) / size;
    }
    aligned[4] = value[STRIKEROSE_TWIST] / size;
    aligned[5] = value[STRIKEROSE_LIFT] / size;

    /* Standardised, and held to a few standard deviations. */
    for (int k = 0; k < ALIGNED; k++) {
        const float standard = (aligned[k] - MEAN[k]) * SPREAD_INVERSE[k];
        aligned[k] = fminf(fmaxf(standard, -HELD_SD), HELD_SD);
    }

    /* Nets of one hidden layer, asked twice: for the strike and for its
     * mirror image, whose turn is the opposite. */
    float sine = 0.0f;
    float cosine = COS_BIAS;
    float above_m = HEIGHT_BIAS_M;
    float side = 1.0f;
    for (int image = 0; image < 2; image++) {
        for (int unit = 0; unit < UNITS; unit++) {
            float sum = HIDDEN_BIAS[unit];
            for (int k = 0; k < ALIGNED; k++) {
                sum += HIDDEN[unit * ALIGNED + k] * aligned[k];
            }
            sum = tanhf(sum);
            sine += side * OUT_SIN[unit] * sum;
            cosine += OUT_COS[unit] * sum;
            above_m += OUT_HEIGHT[unit] * sum;
        }
        side = -side;
        for (int k = 0; k < ALIGNED_VECTORS; k++) {
            aligned[2 * k + 1] = -aligned[2 * k + 1];
        }
        aligned[4] = -aligned[4];
    }

    /* The direction q: the first direction turned clockwise. */
    const float turn_length = hypotf(sine, cosine);
    if (turn_length > 0.0f) {
        sine = sine / turn_length;
        cosine = cosine / turn_length;
    } else {
        sine = 0.0f;
        cosine = 1.0f;
    }
    const float q_x = u_x * cosine + u_y * sine;
    const float q_y = u_y * cosine - u_x * sine;
    const float height_m = fminf(fmaxf(CENTRE_M + above_m, 0.0f), LENGTH_M);

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
    bearing_sd_deg = hypotf(bearing_sd_deg, MOUNT_SD_DEG);
    bearing_half90_deg = hypotf(bearing_half90_deg, MOUNT_HALF90_DEG);
    bearing_sd_deg = fmaxf(bearing_sd_deg, LEAST_SD_DEG);
    bearing_half90_deg = fmaxf(bearing_half90_deg, LEAST_HALF90_DEG);
    height_sd_m = fmaxf(height_sd_m, LEAST_SD_M);
    height_half90_m = fmaxf(height_half90_m, LEAST_HALF90_M);
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

    crc = crc32_floats(crc, SIZE_INVERSE, ALIGNED_VECTORS);
    crc = crc32_floats(crc, FIRST, ALIGNED_VECTORS);
    crc = crc32_floats(crc, MEAN, ALIGNED);
    crc = crc32_floats(crc, SPREAD_INVERSE, ALIGNED);
    crc = crc32_floats(crc, &HELD_SD, 1);
    crc = crc32_floats(crc, HIDDEN, UNITS * ALIGNED);
    crc = crc32_floats(crc, HIDDEN_BIAS, UNITS);
    crc = crc32_floats(crc, OUT_SIN, UNITS);
    crc = crc32_floats(crc, OUT_COS, UNITS);
    crc = crc32_floats(crc, OUT_HEIGHT, UNITS);
    crc = crc32_floats(crc, &COS_BIAS, 1);
    crc = crc32_floats(crc, &HEIGHT_BIAS_M, 1);
    crc = crc32_floats(crc, &CENTRE_M, 1);
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
    crc = crc32_floats(crc, &MOUNT_SD_DEG, 1);
    crc = crc32_floats(crc, &MOUNT_HALF90_DEG, 1);
    crc = crc32_floats(crc, &LEAST_SD_DEG, 1);
    crc = crc32_floats(crc, &LEAST_HALF90_DEG, 1);
    crc = crc32_floats(crc, &LEAST_SD_M, 1);
    crc = crc32_floats(crc, &LEAST_HALF90_M, 1);
    crc = crc32_floats(crc, &GUESS_SD_DEG, 1);
    crc = crc32_floats(crc, &GUESS_SD_M, 1);
    crc = crc32_floats(crc, &GUESS_HALF90_M, 1);
    return ~crc;
}

#pragma once

/// Colours and sizes of every screen. sRGB, 0xRRGGBB. Contrast on `kPaper`: ink 14.7, second ink 6.8, button 5.1.

namespace app::theme {

inline constexpr unsigned kPaper = 0xFFFDF8;   ///< cards and bands
inline constexpr unsigned kGround = 0xF4F0E8;  ///< behind them
inline constexpr unsigned kLine = 0xD8D0C2;    ///< between things
inline constexpr unsigned kOver = 0xF5EEDF;    ///< a card under the pointer
inline constexpr unsigned kEdge = 0x8A8072;    ///< around what can be pressed
inline constexpr unsigned kInk = 0x2B2622;
inline constexpr unsigned kSecondInk = 0x5A5148;

// states, from the colour-blind-safe set of Okabe and Ito 2008; never colour alone
inline constexpr unsigned kBlue = 0x0072B2, kBlueOver = 0x005F96, kBlueText = 0x004F7C, kBlueWash = 0xEAF3F9;
inline constexpr unsigned kGreen = 0x009E73, kGreenText = 0x00694C;
inline constexpr unsigned kOrange = 0xE69F00;
inline constexpr unsigned kVermilion = 0xD55E00, kVermilionText = 0xA34700;

inline constexpr unsigned kChip = 0xEEE8DC, kBlueChip = 0xDCEBF5, kFooterGround = 0xEAE4D8;

// heights and widths at 100 %; the second of a pair where there is little room (Ui::compact)
inline constexpr float kBand = 52.0f, kBandCompact = 40.0f, kTray = 292.0f, kTrayCompact = 216.0f;
inline constexpr float kTrace = 206.0f, kTraceCompact = 100.0f, kFooter = 28.0f, kGap = 16.0f;

}  // namespace app::theme

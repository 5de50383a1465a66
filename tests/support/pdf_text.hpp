#pragma once

#include <array>
#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>

/// What a PDF says, by pdftotext of poppler-utils.

namespace support {

/// Laid out as on the page; a form feed ends each.
inline std::string text_of_pdf(const std::filesystem::path& pdf) {
    const std::string command = "pdftotext -layout '" + pdf.string() + "' -";
    const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
    REQUIRE(pipe != nullptr);
    std::string text;
    std::array<char, 4096> block{};
    for (std::size_t n = 0; (n = fread(block.data(), 1, block.size(), pipe.get())) > 0;) text.append(block.data(), n);
    return text;
}

/// Line breaks and runs of spaces are the page's business.
inline std::string squeezed(const std::string& text) {
    std::string out;
    for (const char c : text)
        if (c != ' ' && c != '\n' && c != '\f') out += c;
    return out;
}

/// PK_KEEP_PDF names a folder that keeps the file for looking at.
inline std::filesystem::path written_pdf(const std::string& bytes, const std::string& name) {
    const char* keep = std::getenv("PK_KEEP_PDF");
    const auto path = (keep != nullptr ? std::filesystem::path(keep) : std::filesystem::temp_directory_path()) / name;
    std::ofstream(path, std::ios::binary) << bytes;
    return path;
}

}  // namespace support
